/** The three ways to write readings. Refusals: `csv-unreadable`, `malformed-json`, `invalid-request`, `body-too-large`. */
import { z } from 'zod';
import { Refused } from '../../../domain/errors.ts';
import { parseJson, tooLarge } from '../../../platform/http/body.ts';
import { invalidRequest } from '../../../platform/http/problem.ts';
import { instant } from '../../../platform/http/scalars.ts';
import type { Collector, Written } from './collect.ts';

export const CSV = 'text/csv';
export const NDJSON = 'application/x-ndjson';
export const JSON_TYPE = 'application/json';

const FIELDS = ['sensor', 'at', 'temperatureC', 'temperatureF'] as const;
type Field = (typeof FIELDS)[number];
const LF = 10;
/** A reading takes about a hundred bytes. Without a bound, text without line ends would be kept as a whole. */
const MOST_LINE_BYTES = 64 * 1024;

/** Pieces that end at line ends, the last perhaps without one. @throws Refused `csv-unreadable` for a line without end */
export async function* blocksOf(chunks: AsyncIterable<Buffer>): AsyncGenerator<Buffer> {
  let rest: Buffer[] = [];
  let restBytes = 0;
  for await (const chunk of chunks) {
    const end = chunk.lastIndexOf(LF);
    restBytes = end === -1 ? restBytes + chunk.length : chunk.length - end - 1;
    if (restBytes > MOST_LINE_BYTES) {
      throw new Refused(
        'csv-unreadable',
        'A line is longer than 64 KiB: that is no list of readings. Nothing was kept.',
      );
    }
    if (end === -1) rest.push(chunk);
    else {
      yield Buffer.concat([...rest, chunk.subarray(0, end + 1)]);
      rest = [chunk.subarray(end + 1)];
    }
  }
  const last = Buffer.concat(rest);
  if (last.length > 0) yield last;
}

/** The columns of a heading, in any order. @throws Refused `csv-unreadable` */
export function columnsOf(heading: string): Field[] {
  const names = cellsOf(heading.replace(/^\ufeff/, '').trim());
  const columns = names.filter((name): name is Field => (FIELDS as readonly string[]).includes(name));
  const units = columns.filter((name) => name.startsWith('temperature'));
  const whole = columns.length === names.length && new Set(names).size === 3 && names.length === 3;
  if (whole && units.length === 1 && columns.includes('sensor') && columns.includes('at')) return columns;
  const seen = heading.slice(0, 80).trim();
  throw new Refused(
    'csv-unreadable',
    `The first line has to be sensor,at,temperatureC (or temperatureF), not "${seen}". Nothing was kept.`,
  );
}

function cellsOf(line: string): string[] {
  if (!line.includes('"')) return line.split(',');
  // Codes, times and numbers hold neither commas nor quotation marks, so a quoted cell is its inside.
  return line.split(',').map((cell) => /^"([^"]*)"$/.exec(cell)?.[1] ?? cell);
}

export interface TextReader {
  /** Reads whole lines; numbers them on from where it stands. */
  read(block: string): void;
  /** the number of the last line read */
  readonly line: () => number;
  readonly columns: () => readonly string[];
}

/**
 * @param start where a later piece of a text goes on: lines before it, and the columns that its heading said
 * @param pointerOf where a line's reading stood in the body, if not by itself
 * @param mostLines more than that is refused as a whole
 */
export function textReader(
  mediaType: string,
  collector: Collector,
  mostLines: number,
  start: { readonly line: number; readonly columns: readonly string[] } = { line: 0, columns: [] },
  pointerOf: (line: number) => string = () => '',
): TextReader {
  let { line } = start;
  let columns = start.columns as readonly Field[];
  let taken = 0;
  const readLine = mediaType === CSV ? readCells : readObject;

  function readCells(text: string): void {
    if (columns.length === 0) {
      columns = columnsOf(text);
      return;
    }
    count();
    const cells = cellsOf(text);
    if (cells.length !== columns.length) return collector.refuse(line, '', 'line-unreadable');
    const written: Record<Field, unknown> = { ...NOTHING };
    for (let at = 0; at < cells.length; at += 1) written[columns[at] as Field] = cells[at];
    collector.add(line, written);
  }

  function readObject(text: string): void {
    let value: unknown;
    count();
    try {
      value = JSON.parse(text);
    } catch {
      return collector.refuse(line, pointerOf(line), 'line-unreadable');
    }
    addObject(collector, line, value, pointerOf(line));
  }

  function count(): void {
    taken += 1;
    if (taken > mostLines) throw tooMany(mostLines);
  }

  return {
    line: () => line,
    columns: () => columns,
    read(block) {
      const lines = block.split('\n');
      // What follows the last line end is no line.
      if (lines.at(-1) === '') lines.pop();
      for (const raw of lines) {
        line += 1;
        const text = raw.endsWith('\r') ? raw.slice(0, -1) : raw;
        if (text !== '') readLine(text);
      }
    },
  };
}

const NOTHING: Written = { sensor: undefined, at: undefined, temperatureC: undefined, temperatureF: undefined };

function tooMany(most: number): Refused {
  const how = most > 100_000 ? 'Send it in parts.' : 'Send it in parts, or to /v1/reading-imports.';
  return new Refused('body-too-large', `At most ${most} readings are taken in one call. ${how} Nothing was kept.`, {
    headers: { Connection: 'close' },
  });
}

function addObject(collector: Collector, line: number, value: unknown, pointer: string): void {
  if (typeof value !== 'object' || value === null || Array.isArray(value)) {
    return collector.refuse(line, pointer, 'line-unreadable');
  }
  for (const key of Object.keys(value)) {
    if ((FIELDS as readonly string[]).includes(key)) continue;
    return collector.refuse(
      line,
      `${pointer}/${key.slice(0, 40)}`,
      key === 'temperature' ? 'unit-missing' : 'line-unreadable',
    );
  }
  collector.add(line, value as Written, pointer);
}

const Envelope = z.strictObject({ deviceTime: instant.optional(), readings: z.array(z.unknown()) });

export interface JsonBody {
  /** the sender's clock, if it said one */
  readonly deviceTime: string | undefined;
  readonly readings: readonly unknown[];
}

/** A JSON body has to be read as a whole; in an import too it may not be longer than this. */
const MOST_JSON_BYTES = 8 * 1024 * 1024;

export const jsonPointer = (line: number): string => `/readings/${line - 1}`;

export async function readJsonBody(chunks: AsyncIterable<Buffer>, mostReadings: number): Promise<JsonBody> {
  const pieces: Buffer[] = [];
  let size = 0;
  for await (const chunk of chunks) {
    size += chunk.length;
    if (size > MOST_JSON_BYTES) throw tooLarge(MOST_JSON_BYTES);
    pieces.push(chunk);
  }
  const parsed = Envelope.safeParse(parseJson(Buffer.concat(pieces)));
  if (!parsed.success) throw invalidRequest(parsed.error, 'body');
  const { readings, deviceTime } = parsed.data;
  if (readings.length > mostReadings) throw tooMany(mostReadings);
  return { deviceTime, readings };
}

/** Each with its place in the list, from 1, as its line. */
export function addReadings(collector: Collector, readings: readonly unknown[]): void {
  for (const [at, value] of readings.entries()) addObject(collector, at + 1, value, jsonPointer(at + 1));
}
