/**
 * Measuring against a ceiling: both sides take turns in one run (A B A B), so that whatever else the machine does meets both, and only
 * the ratio within a pair counts. Rates of different runs are not comparable.
 */
import { mkdirSync, readFileSync, writeFileSync } from 'node:fs';
import path from 'node:path';

const ROOT = path.resolve(import.meta.dirname, '..');

/** One turn: prepares untimed, then does `units` of work in `run`. */
interface Turn {
  readonly units: number;
  run(): Promise<void>;
}

export interface Side {
  prepare(turn: number): Promise<Turn>;
}

interface Spread {
  readonly min: number;
  readonly median: number;
  readonly max: number;
}

export interface Measured {
  /** units per second */
  readonly ours: Spread;
  readonly ceiling: Spread;
  readonly ratio: Spread;
  readonly pairs: number;
}

export interface Result {
  readonly name: string;
  readonly unit: string;
  readonly gate: number;
  readonly passed: boolean;
  readonly seed: number;
  readonly versions: Readonly<Record<string, string>>;
  readonly cases: Readonly<Record<string, Measured>>;
  /** seconds and memory, which are watched and gate nothing unless `passed` says so */
  readonly watched?: Readonly<Record<string, unknown>>;
  /** what was compared after timing, and which planted faults were caught */
  readonly checks: readonly string[];
}

function spreadOf(values: readonly number[]): Spread {
  const sorted = [...values].sort((a, b) => a - b);
  const at = (share: number): number => sorted[Math.floor((sorted.length - 1) * share)] ?? Number.NaN;
  const middle = (sorted.length - 1) / 2;
  const median = ((sorted[Math.floor(middle)] ?? Number.NaN) + (sorted[Math.ceil(middle)] ?? Number.NaN)) / 2;
  return { min: at(0), median, max: at(1) };
}

async function rateOf(side: Side, turn: number): Promise<number> {
  const work = await side.prepare(turn);
  const startedNs = process.hrtime.bigint();
  await work.run();
  return work.units / (Number(process.hrtime.bigint() - startedNs) / 1e9);
}

/** `pairs` measured pairs after `warmUps` unmeasured ones; who goes first changes from pair to pair. */
export async function measure(
  ours: Side,
  ceiling: Side,
  { pairs, warmUps }: { pairs: number; warmUps: number },
): Promise<Measured> {
  const rates: { ours: number; ceiling: number }[] = [];
  for (let turn = 0; turn < warmUps + pairs; turn += 1) {
    const oursFirst = turn % 2 === 0;
    const before = oursFirst ? await rateOf(ours, turn) : Number.NaN;
    const theirs = await rateOf(ceiling, turn);
    const mine = oursFirst ? before : await rateOf(ours, turn);
    if (turn >= warmUps) rates.push({ ours: mine, ceiling: theirs });
  }
  return {
    ours: spreadOf(rates.map((rate) => rate.ours)),
    ceiling: spreadOf(rates.map((rate) => rate.ceiling)),
    ratio: spreadOf(rates.map((rate) => rate.ours / rate.ceiling)),
    pairs,
  };
}

const installed = (name: string): string => {
  const file = path.join(ROOT, 'node_modules', name, 'package.json');
  return (JSON.parse(readFileSync(file, 'utf8')) as { version: string }).version;
};

export function versionsOf(serverVersion: string): Record<string, string> {
  return {
    node: process.versions.node,
    postgres: serverVersion,
    pg: installed('pg'),
    express: installed('express'),
    zod: installed('zod'),
  };
}

/** Writes bench/results/<name>.json and answers where. */
export function keepResult(result: Result): string {
  const dir = path.join(ROOT, 'bench', 'results');
  mkdirSync(dir, { recursive: true });
  const file = path.join(dir, `${result.name}.json`);
  writeFileSync(file, `${JSON.stringify(result, null, 2)}\n`);
  return path.relative(ROOT, file);
}
