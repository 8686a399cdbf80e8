/** Tracking events as JSON, CSV and a workbook, written while they are read. */
import { stringify } from 'csv-stringify/sync';
import { writeWorkbook, type CellValue, type SheetSource } from '../../../platform/spreadsheet/xlsx.ts';
import { answerOf } from './answer.ts';
import { EVENT_COLUMNS, EVENT_MEANINGS, NOTES } from './columns.ts';
import type { EventChunk } from './events.ts';
import { count, missingList, newTally, placeList, type Tally } from './tally.ts';

type Chunks = AsyncIterable<EventChunk>;

/** `more`: further members, written last. */
export async function* jsonFile(chunks: Chunks, more: Readonly<Record<string, unknown>> = {}): AsyncGenerator<string> {
  const tally = newTally();
  let separator = '';
  yield '{"events":[';
  for await (const chunk of chunks) {
    count(tally, chunk);
    let text = '';
    for (const event of chunk.events) {
      text += separator + JSON.stringify(answerOf(event));
      separator = ',\n';
    }
    yield text;
  }
  const rest = {
    locations: placeList(tally).map(({ lacks: _lacks, ...place }) => place),
    lotCount: tally.lotCount,
    eventCount: tally.eventCount,
    missing: missingList(tally),
    notes: NOTES,
    ...more,
  };
  yield `],${JSON.stringify(rest).slice(1)}`;
}

const csvCell = (kind: string | undefined, value: CellValue): CellValue =>
  kind === 'time' && typeof value === 'number' ? new Date(value).toISOString() : value;

const CSV = { record_delimiter: '\r\n', escape_formulas: true } as const;

export async function* csvFile(chunks: Chunks): AsyncGenerator<string> {
  yield stringify([EVENT_COLUMNS.map((column) => column.title)], CSV);
  for await (const chunk of chunks) {
    const rows = chunk.events.map((event) => EVENT_COLUMNS.map(({ kind, value }) => csvCell(kind, value(event))));
    yield stringify(rows, CSV);
  }
}

async function* eventRows(chunks: Chunks, tally: Tally, lots: CellValue[][]): AsyncGenerator<CellValue[]> {
  for await (const chunk of chunks) {
    count(tally, chunk);
    for (const lot of chunk.lots) {
      const born = lot.bornAt.getTime();
      lots.push([
        lot.lotCode,
        lot.supplierLotCode,
        lot.itemName,
        lot.quantity,
        lot.unit,
        lot.origin,
        born,
        lot.useByDate,
      ]);
    }
    for (const event of chunk.events) yield EVENT_COLUMNS.map((column) => column.value(event));
  }
}

/** Counted by then: sheets are written one after the other. */
function* summaryRows(tally: Tally, head: readonly (readonly [string, CellValue])[]): Generator<CellValue[]> {
  for (const [title, value] of head) yield [title, value];
  yield ['Rows of events', tally.eventCount];
  yield ['Lots with an event', tally.lotCount];
  for (const [event, rows] of tally.byEvent) yield [`Rows: ${event}`, rows];
  const missing = missingList(tally);
  yield ['Missing key data elements', missing.length === 0 ? 'none' : missing.length];
  for (const { element, part, law, rows } of missing) {
    yield [`Missing: ${part === null ? element : `${element}, ${part}`} (${law})`, rows];
  }
  for (const note of NOTES) yield ['Note', note];
}

function* placeRows(tally: Tally): Generator<CellValue[]> {
  for (const { kind, code, name, description, address, lacks } of placeList(tally)) {
    const { phone, street, city, region, postalCode, country, latitude, longitude } = address ?? {};
    const parts = [phone, street, city, region, postalCode, country, latitude, longitude].map((part) => part ?? null);
    yield [kind, code, name, address?.businessName ?? name, ...parts, description, lacks.join(', ') || null];
  }
}

function* glossaryRows(): Generator<CellValue[]> {
  for (const { title, meaning, law } of EVENT_COLUMNS) yield ['Column', title, meaning, law];
  for (const [code, meaning] of EVENT_MEANINGS) yield ['Event', code, meaning, null];
}

const columns = (...titles: readonly (readonly [string, number, SheetSource['columns'][number]['kind']?])[]) =>
  titles.map(([title, width, kind]) => ({ title, width, kind: kind ?? 'text' }));

/**
 * @param head lines for the summary
 * @param more further sheets, after the events: counted or read by the time they are written
 */
export function xlsxFile(
  chunks: Chunks,
  title: string,
  head: readonly (readonly [string, CellValue])[],
  more: readonly SheetSource[] = [],
): AsyncGenerator<Buffer> {
  const tally = newTally();
  const lots: CellValue[][] = [];
  const places = [
    'Kind',
    'Code',
    'Name',
    'Business name',
    'Phone',
    'Street',
    'City',
    'Region',
    'Postal code',
    'Country',
  ];
  const sheets: SheetSource[] = [
    { name: 'Events', columns: EVENT_COLUMNS, rows: eventRows(chunks, tally, lots) },
    ...more,
    { name: 'Summary', columns: columns(['What', 60], ['Value', 80]), rows: summaryRows(tally, head) },
    {
      name: 'Sites and suppliers',
      columns: columns(
        ...places.map((place): [string, number] => [place, 18]),
        ['Latitude', 10, 'number'],
        ['Longitude', 10, 'number'],
        ['Location description', 60],
        ['Missing', 20],
      ),
      rows: placeRows(tally),
    },
    {
      name: 'Lots',
      columns: columns(
        ['Traceability lot code', 22],
        ["Supplier's lot code", 18],
        ['Product', 30],
        ['Quantity at birth', 12, 'number'],
        ['Unit', 7],
        ['Origin', 12],
        ['Born at (UTC)', 19, 'time'],
        ['Use by', 11, 'date'],
      ),
      rows: lots,
    },
    {
      name: 'Glossary',
      columns: columns(['Kind', 10], ['Name', 28], ['Meaning', 90], ['Law', 50]),
      rows: glossaryRows(),
    },
  ];
  const tabs = ['Summary', ...more.map((sheet) => sheet.name), 'Events', 'Sites and suppliers', 'Lots', 'Glossary'];
  return writeWorkbook(sheets, { title, tabs });
}
