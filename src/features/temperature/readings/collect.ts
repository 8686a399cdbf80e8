/** Readings of one upload as columns, each judged by itself: 50,000 are held in about a megabyte. */
import {
  centiCOf,
  faultOf,
  instantReader,
  numberOf,
  readingProblems,
  type ReadingProblemCode,
} from '../../../domain/readings.ts';

/** How many problems an answer names; all are counted. */
export const MOST_PROBLEMS = 100;

export interface LineProblem {
  /** from 1: the line of the text, headings and empty ones counted; the place in the list for JSON */
  readonly line: number;
  /** JSON Pointer: into the line, or into the whole body for JSON */
  readonly pointer: string;
  readonly code: ReadingProblemCode;
  readonly detail: string;
}

/** A reading as it was written; a field that was not given is undefined. */
export interface Written {
  readonly sensor: unknown;
  readonly at: unknown;
  readonly temperatureC: unknown;
  readonly temperatureF: unknown;
}

export interface Collected {
  readonly received: number;
  readonly refused: number;
  /** in line order, at most MOST_PROBLEMS */
  readonly problems: readonly LineProblem[];
  /** codes and ids of sensors, each once */
  readonly names: readonly string[];
  /** how many are good so far; the length of each column */
  readonly count: number;
  /** index into names */
  readonly nameNo: Int32Array;
  readonly atMs: Float64Array;
  readonly centiC: Int16Array;
  readonly lineNo: Int32Array;
}

export interface Collector {
  add(line: number, written: Written, pointer?: string): void;
  refuse(line: number, pointer: string, code: ReadingProblemCode): void;
  collected(): Collected;
}

/** A code as contracts write it, or an id. */
const NAME = /^(?:[A-Za-z0-9][A-Za-z0-9._-]{0,19}|[0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12})$/;

export function problemAt(line: number, pointer: string, code: ReadingProblemCode): LineProblem {
  return { line, pointer, code, detail: readingProblems[code] };
}

/** @param nowMs when the upload came in: what is ahead and what is too old is judged from there */
export function createCollector(nowMs: number): Collector {
  const readInstant = instantReader();
  const nameNos = new Map<string, number>();
  const problems: LineProblem[] = [];
  let [received, refused, count, size] = [0, 0, 0, 1024];
  let nameNo = new Int32Array(size);
  let atMs = new Float64Array(size);
  let centiC = new Int16Array(size);
  let lineNo = new Int32Array(size);

  function grow(): void {
    size *= 2;
    const old = { nameNo, atMs, centiC, lineNo };
    nameNo = new Int32Array(size);
    atMs = new Float64Array(size);
    centiC = new Int16Array(size);
    lineNo = new Int32Array(size);
    nameNo.set(old.nameNo);
    atMs.set(old.atMs);
    centiC.set(old.centiC);
    lineNo.set(old.lineNo);
  }

  function numberFor(name: string): number {
    const known = nameNos.get(name);
    if (known !== undefined) return known;
    if (!NAME.test(name)) return -1;
    nameNos.set(name, nameNos.size);
    return nameNos.size - 1;
  }

  function refuse(line: number, pointer: string, code: ReadingProblemCode): void {
    received += 1;
    refused += 1;
    if (problems.length < MOST_PROBLEMS) problems.push(problemAt(line, pointer, code));
  }

  return {
    refuse,
    add(line, { sensor, at, temperatureC, temperatureF }, pointer = '') {
      if (typeof sensor !== 'string') return refuse(line, `${pointer}/sensor`, 'line-unreadable');
      if (typeof at !== 'string') return refuse(line, `${pointer}/at`, 'time-unreadable');
      const unit = temperatureF === undefined ? 'C' : 'F';
      const given = temperatureF ?? temperatureC;
      if (given === undefined || (temperatureC !== undefined && temperatureF !== undefined)) {
        return refuse(line, pointer, 'unit-missing');
      }
      const name = numberFor(sensor);
      if (name === -1) return refuse(line, `${pointer}/sensor`, 'sensor-unknown');
      const time = readInstant(at);
      if (typeof time === 'string') return refuse(line, `${pointer}/at`, time);
      const value = typeof given === 'number' ? given : typeof given === 'string' ? numberOf(given) : Number.NaN;
      const centi = centiCOf(value, unit);
      const fault = faultOf(time, centi, nowMs);
      if (fault !== null) {
        return refuse(line, `${pointer}/${fault.startsWith('time') ? 'at' : `temperature${unit}`}`, fault);
      }
      if (count === size) grow();
      nameNo[count] = name;
      atMs[count] = time;
      centiC[count] = centi;
      lineNo[count] = line;
      count += 1;
      received += 1;
    },
    collected: () => ({ received, refused, problems, names: [...nameNos.keys()], count, nameNo, atMs, centiC, lineNo }),
  };
}
