/** The style of the page: dark text on white, numbers to the right, A4 across when printed. No script and nothing fetched. */
export const STYLE = `
:root { color-scheme: light; --ink: #1c2126; --soft: #4b545c; --rule: #c9cfd4; --head: #eef1f3; --link: #0b4f6c; }
* { box-sizing: border-box; }
body { font: 14px/1.45 'DejaVu Sans', Verdana, 'Segoe UI', Arial, sans-serif; color: var(--ink); background: #fff; margin: 0 auto; padding: 0 24px 48px; max-width: 1240px; }
a { color: var(--link); }
a:focus-visible, [tabindex]:focus-visible { outline: 3px solid #0b4f6c; outline-offset: 2px; }
h1 { font-size: 26px; margin: 20px 0 2px; line-height: 1.2; }
h2 { font-size: 18px; margin: 32px 0 4px; }
.state { font-weight: bold; padding: 8px 14px; border: 3px solid var(--ink); margin: 20px 0 0; }
.state.open { background: #fff3cd; border-style: dashed; }
.state.closed { background: #fff; }
.scope { font-size: 16px; margin: 0; }
.cut { color: var(--soft); font-size: 12px; margin: 2px 0 0; overflow-wrap: anywhere; }
.inbrief { font-size: 16px; border-left: 5px solid #b9572e; padding: 4px 14px; margin: 16px 0; max-width: 80ch; }
.figures { display: grid; grid-template-columns: repeat(auto-fit, minmax(170px, 1fr)); gap: 10px; margin: 14px 0; padding: 0; }
.figures div { border: 1px solid var(--rule); padding: 8px 12px; }
.figures dt { font-size: 12px; color: var(--soft); }
.figures dd { margin: 0; font-size: 21px; font-weight: bold; font-variant-numeric: tabular-nums; }
.figures dd small { display: block; font-size: 11.5px; font-weight: normal; color: var(--soft); }
nav ul { display: flex; flex-wrap: wrap; gap: 2px 18px; list-style: none; padding: 0; margin: 8px 0; }
figure { margin: 0 0 14px; border: 1px solid var(--rule); break-inside: avoid; }
figure svg { display: block; width: 100%; height: auto; }
.row-2 { display: grid; grid-template-columns: repeat(auto-fit, minmax(420px, 1fr)); gap: 14px; align-items: start; margin: 0 0 14px; }
.row-2 figure { margin: 0; }
#pictures { margin-top: 18px; }
.nothing { padding: 14px; margin: 0; color: var(--soft); }
.scroll { overflow-x: auto; }
table { border-collapse: collapse; width: 100%; font-size: 12.5px; font-variant-numeric: tabular-nums; }
caption { text-align: left; color: var(--soft); padding: 0 0 6px; font-size: 12.5px; }
th, td { padding: 4px 7px; border-bottom: 1px solid var(--rule); text-align: left; vertical-align: top; overflow-wrap: break-word; }
thead th { background: var(--head); border-bottom: 2px solid var(--ink); vertical-align: bottom; }
tbody th { font-weight: normal; }
.n { text-align: right; white-space: nowrap; }
thead .n { white-space: normal; }
tfoot th, tfoot td { font-weight: bold; border-top: 2px solid var(--ink); border-bottom: 0; }
.wide table { font-size: 11.5px; }
.wide th, .wide td { padding: 4px 5px; }
.wide tbody th { min-width: 150px; }
#items-grams:not(:target), #items-units:not(:target) { display: none; }
#items-grams:target ~ #items-money, #items-units:target ~ #items-money { display: none; }
.notes li { max-width: 100ch; margin: 0 0 4px; }
footer { margin-top: 32px; border-top: 1px solid var(--rule); padding-top: 8px; font-size: 12px; color: var(--soft); overflow-wrap: anywhere; }
@page { size: A4 landscape; margin: 11mm 12mm; }
@media print {
  body { font-size: 9pt; max-width: none; padding: 0; -webkit-print-color-adjust: exact; print-color-adjust: exact; }
  nav, .switch { display: none; }
  a { color: inherit; text-decoration: none; }
  h1 { font-size: 17pt; margin-top: 6pt; } h2 { font-size: 12pt; margin: 12pt 0 2pt; break-after: avoid; }
  .inbrief { font-size: 10.5pt; margin: 8pt 0; } .figures { margin: 8pt 0; grid-template-columns: repeat(6, 1fr); gap: 5pt; } .figures dd { font-size: 12.5pt; } .figures dd small { font-size: 7pt; } .figures dt { font-size: 7.5pt; }
  .figures div { padding: 4pt 6pt; }
  .row-2 { grid-template-columns: 1fr 1fr; break-inside: avoid; } figure, .row-2 { margin-bottom: 8pt; }
  .scroll { overflow: visible; }
  #items-grams:not(:target), #items-units:not(:target), #items-grams:target ~ #items-money, #items-units:target ~ #items-money { display: block; }
  table { font-size: 7.5pt; } .wide table { font-size: 6.5pt; } .wide th, .wide td { padding: 2pt 3pt; } .wide .n { white-space: normal; } .wide tbody th { min-width: 28mm; }
  section > h2, caption { break-after: avoid; }
  thead { display: table-header-group; } tfoot { display: table-row-group; } tr { break-inside: avoid; }
}
`;
