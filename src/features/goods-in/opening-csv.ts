/**
 * Opening stock as a table out of a spreadsheet: RFC 4180 with commas, or semicolons or tabs as spreadsheets of other countries
 * write them. Columns are found by their names. A cell that cannot be read refuses its own row; a table that cannot be read, or
 * whose columns are not the ones wanted, is refused whole (`csv-unreadable`), naming the column and what is expected.
 */
import { Refused } from '../../domain/errors.ts';
import { date, line, lotCode, unit } from '../../platform/http/scalars.ts';
import { readTableRows } from '../../platform/tables.ts';
import { MOST_ROWS } from './shapes.ts';

/** A row before anything is looked up. */
export interface OpeningRow {
  readonly row: number;
  readonly item: { readonly itemId: string } | { readonly itemCode: string };
  /** null: presumed */
  readonly place: { readonly placeId: string } | { readonly placeCode: string } | null;
  readonly quantity?: number | undefined;
  readonly unit?: string | undefined;
  readonly entryUnit?: string | undefined;
  readonly entryQuantity?: number | undefined;
  readonly useByDate?: string | undefined;
  readonly bestBeforeDate?: string | undefined;
  readonly lotCode?: string | undefined;
  readonly supplierLotCode?: string | undefined;
  readonly allergens?: readonly string[] | undefined;
  readonly mayContain?: readonly string[] | undefined;
  /** cells that cannot be read, in words */
  readonly unreadable: readonly string[];
}

/** Of an item, a place, an entry unit. */
const LONGEST_CODE = 20;
/** Of allergens in one cell; as in the contracts. */
const MOST_CODES = 60;

const COLUMNS = {
  item: { required: true, expected: 'the item code', also: ['item-code'] },
  place: { required: true, expected: 'the place code, or nothing for the presumed place', also: ['place-code'] },
  quantity: { required: true, expected: 'a number such as 12 or 2.5', also: [] },
  unit: { required: true, expected: "the item's unit or one of its entry units", also: ['entry-unit'] },
  'use-by': { required: true, expected: 'a date such as 2026-11-30, or nothing', also: ['use-by-date'] },
  'best-before': { required: false, expected: 'a date such as 2026-11-30, or nothing', also: ['best-before-date'] },
  'lot-code': { required: false, expected: 'a lot code, or nothing', also: ['lot'] },
  'supplier-lot': { required: false, expected: "the supplier's lot code, or nothing", also: ['supplier-lot-code'] },
  allergens: { required: false, expected: 'allergen codes with blanks between, or nothing', also: [] },
  'may-contain': { required: false, expected: 'allergen codes with blanks between, or nothing', also: [] },
} as const;
type Column = keyof typeof COLUMNS;
const names = Object.keys(COLUMNS) as Column[];

/** The beginning of a text, whole signs only: half of one could not be stored. */
export function beginning(text: string, most: number): string {
  return Array.from(text.slice(0, 2 * most))
    .slice(0, most)
    .join('');
}

function unreadable(detail: string): Refused {
  const columns = names.map((name) => ({ name, required: COLUMNS[name].required, expected: COLUMNS[name].expected }));
  return new Refused('csv-unreadable', detail, { errors: [{ detail, pointer: '#/csv' }], members: { columns } });
}

function columnsOf(heading: readonly string[]): Map<Column, number> {
  const found = new Map<Column, number>();
  for (const [at, cell] of heading.entries()) {
    const said = cell.toLowerCase().replaceAll(/[\s_]+/g, '-');
    const name = names.find((one) => one === said || (COLUMNS[one].also as readonly string[]).includes(said));
    if (name === undefined) {
      const shown = cell === '' ? 'without a name' : `"${beginning(cell, 40)}"`;
      throw unreadable(`Column ${at + 1} is ${shown}; expected are ${names.join(', ')}.`);
    }
    if (found.has(name))
      throw unreadable(`The column ${name} is there twice; expected once is ${COLUMNS[name].expected}.`);
    found.set(name, at);
  }
  const missing = names.find((name) => COLUMNS[name].required && !found.has(name));
  if (missing) throw unreadable(`The column ${missing} is missing; expected is ${COLUMNS[missing].expected}.`);
  return found;
}

/** @throws Refused `csv-unreadable` */
export function readTable(csv: string): OpeningRow[] {
  // A table far too long is read to its end all the same, to say how long it is.
  const [heading, ...rows] = readTableRows(csv, Number.MAX_SAFE_INTEGER, unreadable);
  const columns = columnsOf(heading?.cells ?? []);
  if (rows.length === 0) throw unreadable('The table has no rows under its heading.');
  if (rows.length > MOST_ROWS) {
    throw unreadable(`The table has ${rows.length} rows; send at most ${MOST_ROWS} in one call.`);
  }
  return rows.map(({ row, cells }) => rowOf(row, cells, heading?.cells.length ?? 0, columns));
}

function rowOf(row: number, cells: readonly string[], width: number, columns: ReadonlyMap<Column, number>): OpeningRow {
  const wrong: string[] = [];
  const cell = (name: Column): string => cells[columns.get(name) ?? -1] ?? '';
  const checked = (name: Column, fits: (text: string) => boolean): string | undefined => {
    const text = cell(name);
    if (text === '') return undefined;
    if (fits(text)) return text;
    wrong.push(`${name}: "${beginning(text, 40)}" is not ${COLUMNS[name].expected}.`);
    return undefined;
  };
  if (cells.length !== width) wrong.push(`The row has ${cells.length} cells, the heading has ${width}.`);
  // one sign too many is enough to be unknown, and short enough to be shown
  const itemCode = beginning(cell('item'), LONGEST_CODE + 1);
  if (itemCode === '') wrong.push('item: the item code is missing.');
  const placeCode = beginning(cell('place'), LONGEST_CODE + 1);
  const isDate = (text: string) => date.safeParse(text).success;
  const codes = (name: Column) => {
    const list = cell(name)
      .split(/[\s;|,]+/)
      .filter((code) => code !== '');
    if (list.length > MOST_CODES) wrong.push(`${name}: more than ${MOST_CODES} codes.`);
    return list.length === 0 ? undefined : list.slice(0, MOST_CODES);
  };
  return {
    row,
    item: { itemCode },
    place: placeCode === '' ? null : { placeCode },
    ...countedIn(cell('quantity'), cell('unit'), wrong),
    useByDate: checked('use-by', isDate),
    bestBeforeDate: checked('best-before', isDate),
    lotCode: checked('lot-code', (text) => lotCode.safeParse(text).success),
    supplierLotCode: checked('supplier-lot', (text) => line(60).safeParse(text).success),
    allergens: codes('allergens'),
    mayContain: codes('may-contain'),
    unreadable: wrong,
  };
}

/** 1,500 is fifteen hundred to some and one and a half to others: only a point parts decimals, and nothing parts thousands. */
function countedIn(
  number: string,
  said: string,
  wrong: string[],
): Pick<OpeningRow, 'quantity' | 'unit' | 'entryUnit' | 'entryQuantity'> {
  if (!/^\d{1,12}(\.\d{1,3})?$/.test(number)) {
    wrong.push(`quantity: "${beginning(number, 40)}" is not ${COLUMNS.quantity.expected}.`);
    return {};
  }
  if (said === '' || said.length > LONGEST_CODE) {
    wrong.push(`unit: "${beginning(said, LONGEST_CODE)}" is not ${COLUMNS.unit.expected}.`);
    return {};
  }
  const own = unit.safeParse(said);
  return own.success
    ? { quantity: Number(number), unit: own.data }
    : { entryUnit: said.toLowerCase(), entryQuantity: Number(number) };
}
