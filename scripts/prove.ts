/**
 * Tells the real service many more random stories than the tests do, and compares its books with the oracle's.
 *
 *   npm run prove                     400 stories
 *   npm run prove -- --runs 5000
 *   npm run prove -- --slice          a small slice, to see that it works
 *   npm run prove -- --seed 12345     the same stories again
 *
 * Exits with 1 at the first failure, whose seed and smallest story are printed.
 */
import { spawn } from 'node:child_process';
import { randomInt } from 'node:crypto';
import { createRequire } from 'node:module';
import path from 'node:path';
import { parseArgs } from 'node:util';

const DEFAULT_RUNS = 400;
const SLICE_RUNS = 15;
/** Stories between two lines of progress. */
const CHUNK_RUNS = 50;
const PROPERTIES = ['ledger', 'recall-scope', 'recall-account', 'temperature-orders', 'month', 'month-late'].map(
  (name) => `tests/simulation/${name}.test.ts`,
);
const USAGE = 'usage: npm run prove -- [--runs N] [--seed S] [--slice]';

interface Wanted {
  readonly runs: number;
  readonly seed: number;
}

function wantedFrom(args: readonly string[]): Wanted {
  const options = { runs: { type: 'string' }, seed: { type: 'string' }, slice: { type: 'boolean' } } as const;
  const { values } = parseArgs({ args: [...args], options, strict: true });
  const whole = (name: string, text: string, least: number): number => {
    const number = Number(text);
    if (!Number.isSafeInteger(number) || number < least || number > 0x7fff_ffff) {
      throw new RangeError(`--${name} is not a whole number from ${least}: ${text}`);
    }
    return number;
  };
  if (values.slice === true && values.runs !== undefined) throw new RangeError('give --runs or --slice, not both');
  const runs = values.slice === true ? SLICE_RUNS : DEFAULT_RUNS;
  return {
    runs: values.runs === undefined ? runs : whole('runs', values.runs, 1),
    seed: values.seed === undefined ? randomInt(0x7fff_ffff) : whole('seed', values.seed, 0),
  };
}

/** Answers the exit code of one run of the properties. */
function prove({ runs, seed }: Wanted): Promise<number> {
  const vitest = path.join(path.dirname(createRequire(import.meta.url).resolve('vitest/package.json')), 'vitest.mjs');
  const child = spawn(process.execPath, [vitest, 'run', '--reporter=dot', ...PROPERTIES], {
    cwd: path.resolve(import.meta.dirname, '..'),
    stdio: 'inherit',
    env: { ...process.env, SEALTRAIL_PROVE_RUNS: String(runs), SEALTRAIL_PROVE_SEED: String(seed) },
  });
  return new Promise((resolve, reject) => {
    child.once('error', reject);
    child.once('exit', (code) => resolve(code ?? 1));
  });
}

async function main(): Promise<number> {
  let wanted: Wanted;
  try {
    wanted = wantedFrom(process.argv.slice(2));
  } catch (error) {
    process.stderr.write(`${(error as Error).message}\n${USAGE}\n`);
    return 2;
  }
  process.stdout.write(`${wanted.runs} stories, seed ${wanted.seed}\n`);
  for (let told = 0; told < wanted.runs;) {
    // each chunk has a seed of its own that follows from the first
    const chunk = { runs: Math.min(CHUNK_RUNS, wanted.runs - told), seed: (wanted.seed + told) % 0x7fff_ffff };
    const code = await prove(chunk);
    if (code !== 0) {
      process.stderr.write(`failed: npm run prove -- --runs ${chunk.runs} --seed ${chunk.seed}\n`);
      return 1;
    }
    told += chunk.runs;
    process.stdout.write(`${told} of ${wanted.runs} stories agree\n`);
  }
  return 0;
}

process.exitCode = await main();
