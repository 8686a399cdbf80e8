/**
 * Requirements as a table (commas, semicolons or tabs), columns by name in any order. Texture and diets may be empty but their columns must be there: a
 * forgotten column would otherwise turn a prescribed texture into none. Rows are named by their line in the file, the heading being 1.
 * Refusals: `csv-unreadable` (columns, quotes, number of rows), `invalid-request` (what stands in a cell).
 */
import { Refused, type ProblemIssue } from '../../../domain/errors.ts';
import { isCalendarDate } from '../../../domain/time.ts';
import { readTableRows } from '../../../platform/tables.ts';
import { MOST_LINES, meal as Meal } from './contract.ts';

export interface AskedLine {
  /** how people find it again: `Row 3`, `Line 1` */
  readonly label: string;
  readonly pointer: string;
  /** one of the two */
  readonly siteId: string | null;
  readonly siteCode: string | null;
  /** one of the two */
  readonly itemId: string | null;
  readonly itemCode: string | null;
  readonly serviceDate: string;
  readonly meal: string;
  readonly portions: number;
  readonly textureLevel: number | null;
  /** sorted, each once */
  readonly dietCodes: readonly string[];
  readonly note: string | null;
}

const NEEDED = ['date', 'meal', 'item code', 'portions', 'texture', 'diets'] as const;
const KNOWN: readonly string[] = ['site code', ...NEEDED, 'note'];
const CODE = /^[A-Za-z0-9][A-Za-z0-9._-]{0,19}$/;
const MOST_PORTIONS = 100_000;

export const sortedOnce = (codes: readonly string[]): string[] => [...new Set(codes)].sort();

function unreadable(detail: string): Refused {
  return new Refused('csv-unreadable', detail, { errors: [{ detail, pointer: '#/csv' }] });
}

/** Where each column stands. */
function columnsOf(heading: readonly string[], siteId: string | null): ReadonlyMap<string, number> {
  const columns = new Map<string, number>();
  for (const [at, name] of heading.entries()) {
    const known = name.toLowerCase();
    if (!KNOWN.includes(known)) {
      const shown = name === '' ? `Column ${at + 1} has no heading` : `There is no column "${name.slice(0, 60)}"`;
      throw unreadable(`${shown}; the columns are ${KNOWN.join(', ')}.`);
    }
    if (columns.has(known)) throw unreadable(`The column "${known}" is there twice.`);
    columns.set(known, at);
  }
  const needed = siteId === null ? ['site code', ...NEEDED] : NEEDED;
  const missing = needed.filter((name) => !columns.has(name));
  if (missing.length > 0) throw unreadable(`Missing: ${missing.map((name) => `"${name}"`).join(', ')}.`);
  return columns;
}

/** @param siteId the site of rows that name none */
export function readCsv(csv: string, siteId: string | null): AskedLine[] {
  const [heading, ...rows] = readTableRows(csv, MOST_LINES + 2, unreadable);
  if (!heading) throw unreadable('There is no heading row.');
  const columns = columnsOf(heading.cells, siteId);
  if (rows.length === 0) throw unreadable('There is no row after the heading.');
  if (rows.length > MOST_LINES) throw unreadable(`There are more than ${MOST_LINES} rows.`);
  const issues: ProblemIssue[] = [];
  const lines = rows.map(({ row, cells }) => {
    const label = `Row ${row}`;
    if (cells.length !== heading.cells.length) {
      throw unreadable(`${label} has ${cells.length} cells, the heading has ${heading.cells.length}.`);
    }
    const cell = (name: string): string => cells[columns.get(name) ?? -1] ?? '';
    const need = (name: string, good: boolean, wanted: string): void => {
      if (!good) {
        const shown = cell(name) === '' ? 'is empty' : `is "${cell(name).slice(0, 60)}"`;
        issues.push({ detail: `${label}: ${name} ${shown}; ${wanted} is wanted`, pointer: '#/csv' });
      }
    };
    const siteCode = cell('site code');
    need('site code', CODE.test(siteCode) || (siteCode === '' && siteId !== null), 'the code of a site');
    need('date', /^\d{4}-\d\d-\d\d$/.test(cell('date')) && isCalendarDate(cell('date')), 'a day such as 2026-11-25');
    need(
      'meal',
      Meal.options.some((one) => one === cell('meal')),
      `one of ${Meal.options.join(', ')}`,
    );
    need('item code', CODE.test(cell('item code')), 'the code of an item');
    const portions = Number(cell('portions'));
    need(
      'portions',
      /^\d{1,6}$/.test(cell('portions')) && portions <= MOST_PORTIONS,
      `a number from 0 to ${MOST_PORTIONS}`,
    );
    need('texture', /^[0-7]?$/.test(cell('texture')), 'a level from 0 to 7 or nothing');
    need('note', /^[^\u0000-\u001f\u007f]{0,200}$/u.test(cell('note')), 'one line of up to 200 characters');
    const diets = cell('diets')
      .split(';')
      .map((diet) => diet.trim());
    return {
      label,
      pointer: '#/csv',
      siteId: siteCode === '' ? siteId : null,
      siteCode: siteCode === '' ? null : siteCode,
      itemId: null,
      itemCode: cell('item code'),
      serviceDate: cell('date'),
      meal: cell('meal'),
      portions,
      textureLevel: cell('texture') === '' ? null : Number(cell('texture')),
      dietCodes: sortedOnce(diets.filter((diet) => diet !== '')),
      note: cell('note') === '' ? null : cell('note'),
    };
  });
  if (issues[0]) {
    const more = issues.length > 1 ? ` And ${issues.length - 1} more.` : '';
    throw new Refused('invalid-request', `${issues[0].detail}.${more}`, { errors: issues });
  }
  return lines;
}
