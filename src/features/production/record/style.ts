/** The style of the record's page: dark text on white, A4 upright when printed. No script and nothing fetched. */
export const STYLE = `
:root { color-scheme: light; --ink: #1c2126; --soft: #4b545c; --rule: #c9cfd4; --head: #eef1f3; --link: #0b4f6c; --good: #1f6b3a; --bad: #8a1c12; --warn: #7a4b00; }
* { box-sizing: border-box; }
body { font: 14px/1.45 'DejaVu Sans', Verdana, 'Segoe UI', Arial, sans-serif; color: var(--ink); background: #fff; margin: 0 auto; padding: 24px 24px 48px; max-width: 1060px; }
a { color: var(--link); overflow-wrap: anywhere; }
a:focus-visible, [tabindex]:focus-visible { outline: 3px solid #0b4f6c; outline-offset: 2px; }
header { border-top: 6px solid var(--ink); padding-top: 10px; }
.kicker { margin: 0; font-size: 13px; color: var(--soft); }
h1 { font-size: 28px; margin: 2px 0 0; line-height: 1.2; overflow-wrap: anywhere; }
h2 { font-size: 18px; margin: 30px 0 4px; padding-top: 8px; border-top: 1px solid var(--rule); }
.standing { display: flex; flex-wrap: wrap; gap: 4px 14px; align-items: baseline; margin: 14px 0 0; padding: 10px 14px; border-left: 8px solid; background: #f6f7f8; }
.standing strong { font-size: 19px; }
.standing.good { border-color: var(--good); background: #edf6f0; } .standing.good strong { color: var(--good); }
.standing.bad { border-color: var(--bad); background: #fbeeec; } .standing.bad strong { color: var(--bad); }
.standing.warn { border-color: #b97a00; background: #fdf5e3; } .standing.warn strong { color: var(--warn); }
dl { display: grid; grid-template-columns: repeat(3, 1fr); gap: 0 22px; margin: 14px 0 0; padding: 0; }
dl div { border-top: 1px solid var(--rule); padding: 6px 0 8px; min-width: 0; overflow-wrap: anywhere; }
dl.four { grid-template-columns: repeat(4, 1fr); }
dt { font-size: 12px; color: var(--soft); }
dd { margin: 0; font-weight: bold; }
dd small { display: block; font-weight: normal; color: var(--soft); font-size: 12px; }
nav ul { display: flex; flex-wrap: wrap; gap: 2px 16px; list-style: none; padding: 0; margin: 14px 0 0; font-size: 13px; }
figure { margin: 10px 0 0; border: 1px solid var(--rule); break-inside: avoid; }
figure svg { display: block; width: 100%; height: auto; }
.note, .nothing { color: var(--soft); font-size: 12.5px; margin: 0 0 6px; }
.scroll { overflow-x: auto; }
table { border-collapse: collapse; width: 100%; font-size: 13px; font-variant-numeric: tabular-nums; table-layout: fixed; min-width: 760px; }
th, td { padding: 5px 7px; border-bottom: 1px solid var(--rule); text-align: left; vertical-align: top; overflow-wrap: anywhere; font-weight: normal; }
thead th { background: var(--head); border-bottom: 2px solid var(--ink); vertical-align: bottom; font-weight: bold; font-size: 12px; overflow-wrap: normal; }
.n { text-align: right; }
td span, th span { display: block; }
.b { font-weight: bold; }
.s { font-size: 11.5px; color: var(--soft); line-height: 1.35; }
.x { text-decoration: line-through; }
.good { color: var(--good); } .bad { color: var(--bad); } .warn { color: var(--warn); } .quiet { color: #6b747c; }
.cautions { font-size: 12.5px; } .cautions li { margin: 0 0 4px; max-width: 95ch; }
footer { margin-top: 30px; border-top: 1px solid var(--rule); padding-top: 8px; font-size: 12px; color: var(--soft); }
@media (max-width: 640px) { dl, dl.four { grid-template-columns: repeat(2, 1fr); } }
@page { size: A4; margin: 13mm 13mm 14mm; }
@media print {
  body { font-size: 9pt; max-width: none; padding: 0; -webkit-print-color-adjust: exact; print-color-adjust: exact; }
  nav { display: none; } a { color: inherit; text-decoration: none; }
  h1 { font-size: 18pt; } h2 { font-size: 12pt; margin: 12pt 0 2pt; padding-top: 5pt; break-after: avoid; }
  dl { gap: 0 14pt; margin-top: 8pt; } .standing { margin-top: 8pt; padding: 6pt 9pt; } .standing strong { font-size: 13pt; }
  dt, dd small { font-size: 7.5pt; }
  .scroll { overflow: visible; } table { font-size: 8pt; min-width: 0; } th, td { padding: 3pt 4pt; } thead th { font-size: 7.5pt; } .s { font-size: 7pt; }
  .note { break-after: avoid; } thead { display: table-header-group; } tr { break-inside: avoid; }
}
`;
