/**
 * Bulk scans: POST /v1/scans with 1,000 and 5,000 scans a call against a batch insert of the same rows by hand (scan-ceiling.ts). A turn is
 * a consignment whose packs arrive, are put away and are used in three calls. The request is made before the clock starts, the answer is
 * read within the time and looked at after it.
 */
import { exampleId } from '../src/platform/ids.ts';
import { measure, versionsOf, type Measured, type Result, type Side } from './measure.ts';
import { makePackWorld, type Consignment, type PackWorld } from './pack-world.ts';
import { openCeiling, type Ceiling } from './scan-ceiling.ts';
import { analyze, faultsIn } from './scan-checks.ts';
import { KINDS, scansOf, type PackScan } from './scan-rows.ts';
import { startBenchService, type BenchService } from './service.ts';

/**
 * The least median ratio that passes. Seen on two quiet cores, seven pairs, seed 7: 0.45 (0.34 to 0.58) at 1,000 scans a call and
 * 0.50 (0.46 to 0.54) at 5,000.
 */
const GATE = 0.35;
const SIZES = [1000, 5000];

type Say = (line: string) => void;

interface Bench {
  readonly service: BenchService;
  readonly world: PackWorld;
  readonly ceiling: Ceiling;
  readonly seed: number;
}

async function postScans({ service, world }: Bench, bodies: readonly string[]): Promise<void> {
  const answers: Buffer[] = [];
  for (const body of bodies) {
    const answer = await fetch(`${service.url}/v1/scans`, {
      method: 'POST',
      headers: { authorization: service.authorization, 'content-type': 'application/json' },
      body,
    });
    answers.push(Buffer.from(await answer.arrayBuffer()));
    if (answer.status !== 207) throw new Error(`${world.wardId}: ${answer.status} ${answers.at(-1)?.toString('utf8')}`);
  }
}

const requestOf = (world: PackWorld, scans: readonly PackScan[]): string =>
  JSON.stringify({ siteId: world.wardId, scans: scans.map((scan) => scan.body) });

function oursOf(bench: Bench, size: number, sent: Consignment[], leaveOut = 0): Side {
  return {
    async prepare(turn) {
      const name = `${bench.seed}/ours/${size}/${turn}`;
      const one = await bench.world.send(name, `O${size}T${turn}`, size);
      sent.push(one);
      const fromMs = Date.now();
      const bodies = KINDS.map((kind) =>
        requestOf(bench.world, scansOf(bench.world, one, kind, name, fromMs).slice(leaveOut)),
      );
      return { units: 3 * size, run: () => postScans(bench, bodies) };
    },
  };
}

function ceilingOf(bench: Bench, size: number, sent: Consignment[], leaveOut = 0): Side {
  return {
    async prepare(turn) {
      const name = `${bench.seed}/ceiling/${size}/${turn}`;
      const one = await bench.world.send(name, `C${size}T${turn}`, size);
      sent.push(one);
      const fromMs = Date.now();
      const batches = KINDS.map((kind) => {
        const batch = bench.ceiling.prepare(one, kind, scansOf(bench.world, one, kind, name, fromMs));
        return { ...batch, rows: batch.rows.slice(leaveOut) };
      });
      const run = async (): Promise<void> => {
        for (const batch of batches) await bench.ceiling.write(batch);
      };
      return { units: 3 * size, run };
    },
  };
}

/** Each side once with a row left out: the checks must say so, or they prove nothing. */
async function plantFaults(bench: Bench): Promise<string[]> {
  const caught: string[] = [];
  for (const [name, side] of [
    ['ours', oursOf],
    ['ceiling', ceilingOf],
  ] as const) {
    const sent: Consignment[] = [];
    await (await side(bench, 7, sent, 1).prepare(0)).run();
    const faults = await faultsIn(bench.service.databaseUrl, bench.service.groupId, sent);
    if (faults.length === 0) throw new Error(`a row left out by ${name} was not noticed`);
    caught.push(`a row left out by ${name} is noticed: ${faults[0]}`);
  }
  return caught;
}

export async function bulkScans(options: { seed: number; quick: boolean; say: Say }): Promise<Result> {
  const service = await startBenchService();
  try {
    const world = await makePackWorld(service, options.seed);
    const ceiling = await openCeiling(service.databaseUrl, service.groupId, exampleId('person/admin'), world);
    try {
      return await compare({ service, world, ceiling, seed: options.seed }, options);
    } finally {
      await ceiling.end();
    }
  } finally {
    await service.stop();
  }
}

/**
 * A ledger that is not empty, and statistics of it. Every index begins with the group: without statistics Postgres takes that for
 * choosy and checks a foreign key by any of them, row after row, until autovacuum looks at the table for the first time (a minute).
 */
async function makeHistory(bench: Bench, turns: number): Promise<void> {
  // The service makes the ward's accounts with the first scans; the ceiling does not know how.
  await (await oursOf(bench, 10, []).prepare(0)).run();
  const side = ceilingOf(bench, 4000, []);
  for (let turn = 0; turn < turns; turn += 1) await (await side.prepare(turn)).run();
  await analyze(bench.service.databaseUrl);
}

async function compare(bench: Bench, { quick, say }: { quick: boolean; say: Say }): Promise<Result> {
  const { service, seed } = bench;
  const cases: Record<string, Measured> = {};
  const sent: Consignment[] = [];
  say('writing a history to begin with');
  await makeHistory(bench, quick ? 1 : 4);
  for (const size of SIZES) {
    const turns = quick ? { pairs: 2, warmUps: 1 } : { pairs: 7, warmUps: 2 };
    const measured = await measure(oursOf(bench, size, sent), ceilingOf(bench, size, sent), turns);
    cases[`${size} a call`] = measured;
    say(`${size} scans a call: ours ${shown(measured.ours)}, ceiling ${shown(measured.ceiling)} scans/s`);
  }
  const faults = await faultsIn(service.databaseUrl, service.groupId, sent);
  if (faults.length > 0) throw new Error(`what was written is wrong: ${faults.join('; ')}`);
  const checks = ['rows of every table and balances are as the work was', ...(await plantFaults(bench))];
  const passed = Object.values(cases).every(({ ratio }) => ratio.median >= GATE);
  const versions = versionsOf(service.serverVersion);
  return { name: 'bulk-scans', unit: 'scans/s', gate: GATE, passed, seed, versions, cases, checks };
}

const shown = ({ min, median, max }: { min: number; median: number; max: number }): string =>
  `${Math.round(median)} (${Math.round(min)} to ${Math.round(max)})`;
