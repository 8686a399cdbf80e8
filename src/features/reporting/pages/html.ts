/**
 * The month as one page that stands by itself: no script, nothing fetched, so that it works from a file, in a mail and on paper. Every
 * text is escaped; links are paths of this service or places on the page. The same report gives the same page.
 */
import { escaped } from '../../../platform/html.ts';
import type { MonthReportAnswer } from '../month/shapes.ts';
import { headFigures, inBrief } from './brief.ts';
import { pictureRows } from './charts.ts';
import { STYLE } from './style.ts';
import {
  batchesTable,
  itemsTable,
  ITEM_TABLES,
  packagingTable,
  recipesTable,
  uncostedTable,
  wasteTable,
} from './tables-detail.ts';
import { lossesTable, wasteByTable } from './tables-losses.ts';
import type { Cell, Table } from './table.ts';
import { packingTable } from './tables-packing.ts';
import { lateTable, lostTable, makingTable, sitesTable, summaryTable } from './tables.ts';
import { cutText, hashOf, periodText, scopeText, stateText } from './words.ts';

function content({ text, href }: Cell): string {
  if (href === undefined || href === null || text === '') return escaped(text);
  return `<a href="${escaped(href)}">${escaped(text)}</a>`;
}

function rowHtml(row: readonly Cell[], { columns }: Table, anchor: string | null): string {
  const id = anchor === null ? '' : ` id="${escaped(anchor)}"`;
  const cells = row.map((cell, at) => {
    const side = columns[at]?.align === 'right' ? ' class="n"' : '';
    return at === 0 ? `<th scope="row"${side}>${content(cell)}</th>` : `<td${side}>${content(cell)}</td>`;
  });
  return `<tr${id}>${cells.join('')}</tr>`;
}

function tableHtml(table: Table): string {
  if (table.rows.length === 0) return `<p class="nothing">${escaped(table.none)}</p>`;
  const heads = table.columns.map(
    ({ title, align }) => `<th scope="col"${align === 'right' ? ' class="n"' : ''}>${escaped(title)}</th>`,
  );
  const rows = table.rows.map((row, at) => rowHtml(row, table, table.anchors?.[at] ?? null));
  const foot = table.total === undefined ? '' : `<tfoot>${rowHtml(table.total, table, null)}</tfoot>`;
  const name = escaped(`${table.heading}: scroll to see all`);
  return (
    `<div class="scroll" tabindex="0" role="region" aria-label="${name}"><table><caption>${escaped(table.caption)}</caption>` +
    `<thead><tr>${heads.join('')}</tr></thead><tbody>${rows.join('\n')}</tbody>${foot}</table></div>`
  );
}

const MOST_NARROW = 9;

function sectionHtml(table: Table, before = ''): string {
  const wide = table.columns.length > MOST_NARROW ? ' class="wide"' : '';
  return `<section id="${table.id}"${wide}><h2>${escaped(table.heading)}</h2>${before}${tableHtml(table)}</section>`;
}

function picturesHtml(report: MonthReportAnswer): string {
  const rows = pictureRows(report).map((row) => {
    const figures = row.map(({ picture, none }) =>
      picture === null
        ? `<figure><p class="nothing">${escaped(none)}</p></figure>`
        : `<figure id="picture-${picture.name}">${picture.svg}</figure>`,
    );
    return `<div class="row-${row.length}">${figures.join('')}</div>`;
  });
  return `<section id="pictures" aria-label="In pictures">${rows.join('\n')}</section>`;
}

/** One measure at a time on the screen, chosen by links; all three on paper. The one shown first stands last: see the style. */
function itemsHtml(report: MonthReportAnswer): string {
  const to = { inMoney: 'money', inGrams: 'grams', inUnits: 'units' } as const;
  const measures = ['inUnits', 'inGrams', 'inMoney'] as const;
  const links = (own: keyof typeof to) => {
    const others = ['inMoney', 'inGrams', 'inUnits'] as const;
    const each = others.map((one) =>
      one === own ? `<strong>${to[one]}</strong>` : `<a href="#${ITEM_TABLES[one]}">${to[one]}</a>`,
    );
    return `<p class="switch">Show in ${each.join(' · ')}</p>`;
  };
  return measures.map((measure) => sectionHtml(itemsTable(report, measure), links(measure))).join('\n');
}

export function reportHtml(report: MonthReportAnswer): string {
  const title = `Waste, yield and cost: ${periodText(report)}`;
  const tables: readonly (readonly [string, string])[] = [
    ['pictures', 'Pictures'],
    ['summary', 'Summary'],
    ['lost', 'Kitchens by reason'],
    ['sites', 'Kitchens'],
    ['items-money', 'Items'],
    ['waste', 'Waste'],
    ['losses', 'Lost in batches'],
    ['making', 'Making'],
    ['batches', 'Batches'],
    ['packing', 'Packing'],
    ['late', 'Late facts'],
    ['uncosted', 'Lots without a price'],
    ['notes', 'Notes'],
  ];
  const figures = headFigures(report).map(
    ({ title: name, text, below }) =>
      `<div><dt>${escaped(name)}</dt><dd>${escaped(text)}<small>${escaped(below)}</small></dd></div>`,
  );
  const notes = report.notes.map((note) => `<li>${escaped(note)}</li>`).join('');
  const parts = [
    `<p class="state ${report.state}">${escaped(stateText(report))}</p>`,
    `<h1>${escaped(title)}</h1><p class="scope">${escaped(scopeText(report))}</p><p class="cut">${escaped(cutText(report))}</p>`,
    `<p class="inbrief">${escaped(inBrief(report))}</p><dl class="figures">${figures.join('')}</dl>`,
    `<nav aria-label="On this page"><ul>${tables.map(([id, name]) => `<li><a href="#${id}">${name}</a></li>`).join('')}</ul></nav>`,
    picturesHtml(report),
    sectionHtml(summaryTable(report)),
    sectionHtml(lostTable(report)),
    sectionHtml(sitesTable(report)),
    `<div>${itemsHtml(report)}</div>`,
    sectionHtml(wasteTable(report)),
    ...(['reason', 'destination', 'stage'] as const).map((by) => sectionHtml(wasteByTable(report, by))),
    sectionHtml(lossesTable(report)),
    sectionHtml(packagingTable(report)),
    sectionHtml(makingTable(report)),
    sectionHtml(batchesTable(report)),
    sectionHtml(recipesTable(report)),
    sectionHtml(packingTable(report)),
    sectionHtml(lateTable(report)),
    sectionHtml(uncostedTable(report)),
    `<section id="notes" class="notes"><h2>Notes</h2>${notes === '' ? '<p class="nothing">None.</p>' : `<ul>${notes}</ul>`}</section>`,
  ];
  return (
    '<!doctype html>\n<html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1">' +
    `<title>${escaped(`${title}, ${scopeText(report)}`)}</title><style>${STYLE}</style></head><body><main>\n${parts.join('\n')}\n</main>` +
    `<footer>Linked figures lead to the ledger lines behind them. SHA-256 of the report's canonical JSON: ${hashOf(report)}</footer></body></html>\n`
  );
}
