/**
 * The month as a workbook of 200,000 ledger lines, written by a process of its own whose largest memory gates: the file goes to disk piece by
 * piece, as it goes to whoever asked for it. Seconds are watched. Afterwards the file is opened by a reader library, and its rows and their
 * sums are compared with what the lines were made from.
 */
import { fork } from 'node:child_process';
import { once } from 'node:events';
import { createWriteStream, mkdtempSync, readFileSync, rmSync, statSync } from 'node:fs';
import os from 'node:os';
import path from 'node:path';
import { pipeline } from 'node:stream/promises';
import { readXlsx } from 'hucre/xlsx';
import { reportXlsx, type BookLine } from '../src/features/reporting/pages/index.ts';
import { monthReport } from '../tests/support/month-report.ts';
import { versionsOf, type Result } from './measure.ts';

const LINES = 200_000;
/** What the process may hold at most, in MiB. */
const MOST_MIB = 512;
const KIB = 1_024;
const ITEMS = 400;
const SITES = 40;
const KINDS = ['received', 'consumed', 'served', 'wasted', 'adjusted'] as const;
const DAY_MS = 86_400_000;
const OCTOBER_MS = Date.UTC(2026, 9, 1);

interface Made {
  readonly peakMib: number;
  readonly seconds: number;
}

const gramsOf = (at: number): number => 100 + ((at * 37) % 9_000);
const minorOf = (at: number): number => 1 + ((at * 53) % 4_000);

async function* linesOf(count: number): AsyncGenerator<BookLine> {
  for (let at = 0; at < count; at += 1) {
    const line = KINDS[at % KINDS.length] ?? 'served';
    const atMs = OCTOBER_MS + (at % 31) * DAY_MS;
    yield {
      occurredOn: new Date(atMs).toISOString().slice(0, 10),
      siteName: `Kitchen ${at % SITES}`,
      itemCode: `ITEM-${at % ITEMS}`,
      itemName: `An item of the kitchen, number ${at % ITEMS}`,
      lotCode: `LOT-${Math.floor(at / 3)}`,
      line,
      reason: line === 'wasted' ? 'Past its use-by' : null,
      destination: line === 'wasted' ? 'anaerobic-digestion' : null,
      material: line === 'wasted' ? 'food' : null,
      quantity: gramsOf(at),
      unit: 'g',
      grams: gramsOf(at),
      valueMinor: minorOf(at),
      entryId: `00000000-0000-4000-8000-${String(at).padStart(12, '0')}`,
      recordedAt: new Date(atMs + 1_000 * at).toISOString(),
      lateMonth: at % 100 === 0 ? '2026-09' : null,
    };
  }
}

/** In the process of its own. */
async function make(file: string, count: number): Promise<Made> {
  const startedNs = process.hrtime.bigint();
  await pipeline(reportXlsx(monthReport(), linesOf(count)), createWriteStream(file));
  const seconds = Number(process.hrtime.bigint() - startedNs) / 1e9;
  return { peakMib: process.resourceUsage().maxRSS / KIB, seconds };
}

async function makeApart(file: string, count: number): Promise<Made> {
  const child = fork(import.meta.filename, [file, String(count)], { execArgv: ['--import', 'tsx'] });
  const [[made]] = (await Promise.all([once(child, 'message'), once(child, 'exit')])) as [[Made], unknown];
  return made;
}

/** Rows and sums as a reader finds them. Throws when they are not what the lines were made from. */
async function compare(file: string, count: number): Promise<string> {
  const { sheets } = await readXlsx(readFileSync(file));
  const [heads = [], ...rows] = sheets.find(({ name }) => name === 'Lines')?.rows ?? [];
  const sum = (title: string): number => rows.reduce((all, row) => all + Number(row[heads.indexOf(title)]), 0);
  let [grams, minor] = [0, 0];
  for (let at = 0; at < count; at += 1) {
    grams += gramsOf(at);
    minor += minorOf(at);
  }
  const found = [rows.length, sum('Grams'), Math.round(sum('EUR') * 100)].join(' ');
  const wanted = [count, grams, minor].join(' ');
  if (found !== wanted) throw new Error(`The workbook has ${found} where ${wanted} was written`);
  return `a reader library finds ${count} lines, and their grams and money come to what was written`;
}

export async function monthWorkbook({
  seed,
  quick,
  say,
}: {
  seed: number;
  quick: boolean;
  say: (line: string) => void;
}): Promise<Result> {
  const folder = mkdtempSync(path.join(os.tmpdir(), 'month-workbook-'));
  try {
    const file = path.join(folder, 'month.xlsx');
    const few = await makeApart(path.join(folder, 'few.xlsx'), 10);
    const count = quick ? LINES / 10 : LINES;
    const made = await makeApart(file, count);
    const bytes = statSync(file).size;
    say(`month-workbook: ${count} lines in ${made.seconds.toFixed(1)} s, at most ${made.peakMib.toFixed(0)} MiB`);
    return {
      name: 'month-workbook',
      unit: 'MiB at most',
      gate: MOST_MIB,
      passed: made.peakMib <= MOST_MIB,
      seed,
      versions: versionsOf('none'),
      cases: {},
      watched: { lines: count, bytes, ...made, peakMibOfTenLines: few.peakMib },
      checks: [await compare(file, count)],
    };
  } finally {
    rmSync(folder, { recursive: true });
  }
}

if (process.argv[1] === import.meta.filename) {
  const [, , file = '', count = ''] = process.argv;
  process.send?.(await make(file, Number(count)));
  process.disconnect();
}
