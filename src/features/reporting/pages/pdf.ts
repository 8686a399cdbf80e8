/** The month as a print for a meeting: A4 across, pictures first, then the tables of the page. The same report gives the same bytes. */
import { svgDrawing } from '../../../platform/pdf/svg.ts';
import { renderSheet, type Drawing, type Section } from '../../../platform/pdf/sheet.ts';
import type { MonthReportAnswer } from '../month/shapes.ts';
import { headFigures, inBrief } from './brief.ts';
import { pictureRows } from './charts.ts';
import { batchesTable, itemsTable, packagingTable, recipesTable, uncostedTable, wasteTable } from './tables-detail.ts';
import { lossesTable, wasteByTable } from './tables-losses.ts';
import type { Table } from './table.ts';
import { packingTable } from './tables-packing.ts';
import { lateTable, lostTable, makingTable, sitesTable, summaryTable } from './tables.ts';
import { cutText, hashOf, periodText, scopeText, stateText } from './words.ts';

const SMALL = { columns: 9, pt: 7.5 } as const;
const SMALLEST = { columns: 13, pt: 6.5 } as const;

function sectionOf({ heading, caption, columns, rows, total, none }: Table): Section {
  const size = columns.length > SMALLEST.columns ? SMALLEST.pt : columns.length > SMALL.columns ? SMALL.pt : undefined;
  const last = total === undefined || rows.length === 0 ? [] : [total.map(({ text }) => ({ bold: text }))];
  return {
    heading,
    note: caption,
    columns,
    rows: [...rows.map((row) => row.map(({ text }) => text)), ...last],
    none,
    ...(size === undefined ? {} : { textPt: size }),
  };
}

function headSection(report: MonthReportAnswer): Section {
  const figures = headFigures(report);
  return {
    heading: 'In brief',
    note: inBrief(report),
    columns: figures.map(({ title }) => ({ title, share: 1 })),
    rows: [figures.map(({ text }) => ({ bold: text })), figures.map(({ below }) => below)],
  };
}

/** Their titles stand in them. */
function drawings(report: MonthReportAnswer): Drawing[] {
  return pictureRows(report).flatMap((row) => {
    const svgs = row.flatMap(({ picture }) => (picture === null ? [] : [picture.svg]));
    return svgs.length === 0 ? [] : [svgDrawing(svgs)];
  });
}

function notesSection({ notes }: MonthReportAnswer): Section {
  return {
    heading: 'Notes',
    columns: [{ title: '', share: 1 }],
    rows: notes.map((note) => [note]),
    none: 'None.',
  };
}

export async function reportPdf(report: MonthReportAnswer): Promise<Buffer> {
  const state = report.state === 'closed' ? 'CLOSED' : 'PROVISIONAL: THE MONTH IS OPEN';
  const tables = [
    summaryTable(report),
    lostTable(report),
    sitesTable(report),
    itemsTable(report, 'inMoney'),
    itemsTable(report, 'inGrams'),
    itemsTable(report, 'inUnits'),
    wasteTable(report),
    wasteByTable(report, 'reason'),
    wasteByTable(report, 'destination'),
    wasteByTable(report, 'stage'),
    lossesTable(report),
    packagingTable(report),
    makingTable(report),
    batchesTable(report),
    recipesTable(report),
    packingTable(report),
    lateTable(report),
    uncostedTable(report),
  ];
  const title = `Waste, yield and cost: ${periodText(report)}`;
  return renderSheet({
    title,
    subtitle: `${scopeText(report)}\n${stateText(report)}\nFigures ${cutText(report)}.`,
    banner: `${periodText(report)} · ${report.allSites ? 'all sites' : `${report.sites.length} of the sites`} · ${state}`,
    sections: [headSection(report), ...drawings(report), ...tables.map(sectionOf), notesSection(report)],
    foot: `${title}. SHA-256 of the report's canonical JSON: ${hashOf(report)}`,
    // Not when it was printed: the last fact in it, so that the same report gives the same bytes.
    madeAtMs: Date.parse(report.cut.recordedAt ?? report.from),
    landscape: true,
  });
}
