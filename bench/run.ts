/**
 * Measures the service against what the machine can do at best, in the same run:
 *
 *   npm run bench [-- --quick] [-- --large] [-- --seed N] [-- NAME ...]
 *
 * Prints each result as JSON and keeps it under bench/results. Ends with code 1 when a median ratio is under its gate, or when what
 * was written is not what the work was. `--quick`: two pairs, for a first look.
 * `--large`: lot-reach also in a database ten times as large, which takes ten minutes more and 12 GB of disk.
 */
import { parseArgs } from 'node:util';
import { bulkScans } from './bulk-scans.ts';
import { labels } from './labels.ts';
import { lotReach } from './lot-reach.ts';
import { monthWorkbook } from './month-workbook.ts';
import { monthReport } from './month-report.ts';
import { readings } from './readings.ts';
import { scanReading } from './scan-reading.ts';
import { temperatureDays } from './temperature-days.ts';
import { keepResult, type Result } from './measure.ts';

type Bench = (options: {
  seed: number;
  quick: boolean;
  large: boolean;
  say: (line: string) => void;
}) => Promise<Result>;

const BENCHES: Readonly<Record<string, Bench>> = {
  'bulk-scans': bulkScans,
  labels,
  'lot-reach': lotReach,
  'month-workbook': monthWorkbook,
  'month-report': monthReport,
  readings,
  'scan-reading': scanReading,
  'temperature-days': temperatureDays,
};
const DEFAULT_SEED = 7;

const option = { type: 'string' } as const;
const { values, positionals } = parseArgs({
  options: { quick: { type: 'boolean' }, large: { type: 'boolean' }, seed: option },
  allowPositionals: true,
});
const seed = Number(values.seed ?? DEFAULT_SEED);
if (!Number.isSafeInteger(seed) || seed < 0) throw new Error('--seed: a whole number');
const say = (line: string): void => void process.stderr.write(`${line}\n`);
for (const name of positionals.length > 0 ? positionals : Object.keys(BENCHES)) {
  const bench = BENCHES[name];
  if (!bench) throw new Error(`There is no bench ${name}. Benches: ${Object.keys(BENCHES).join(', ')}`);
  const result = await bench({ seed, quick: values.quick ?? false, large: values.large ?? false, say });
  process.stdout.write(`${JSON.stringify(result, null, 2)}\n`);
  say(`kept in ${keepResult(result)}`);
  if (result.passed) continue;
  say(`${name}: a median ratio is under its gate (${result.gate}), or a limit is passed`);
  process.exitCode = 1;
}
