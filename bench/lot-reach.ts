/**
 * Where everything is that a lot became: a staple that a sixth of the year's lots hang on, and typical deliveries, in a database of 400 K
 * lots and a million edges (lot-graph.ts). Held against a bare recursive walk of the same edges, which answers the lots and no
 * quantities, both in the service's own way of opening a transaction. With `--large` also against itself in a database ten times as
 * large, where the walk finds the same. Seconds over HTTP and memory are watched.
 */
import { scopeStanding, type ScopeStanding } from '../src/features/tracing/index.ts';
import { createDb, type Db, type Tx } from '../src/platform/db/db.ts';
import { createLog } from '../src/platform/log.ts';
import pg from 'pg';
import { loadOpenly } from './latency.ts';
import { faultsInLots, faultsInRows, faultsInSums, plainWalk } from './lot-checks.ts';
import { SUPPLIED } from './lot-graph.ts';
import { fillWithLots, KITCHEN, type LotWorld } from './lot-world.ts';
import { measure, versionsOf, type Measured, type Result, type Side } from './measure.ts';
import { startBenchService, type BenchService } from './service.ts';

/** Ours may take 1.5 times as long as the bare walk. */
const GATE = 1 / 1.5;
/** Ten times the database may take 1.2 times as long. */
const LARGE_GATE = 1 / 1.2;
const MOST_MIB = 512;
/** A quarter of a small server's memory, as Postgres' own manual advises to begin with. */
const SETTINGS = { shared_buffers: '2GB' };
const TYPICAL_P99_MS = 10;
const STAPLE_P99_MS = 250;

interface Options {
  readonly seed: number;
  readonly quick: boolean;
  readonly large: boolean;
  readonly say: (line: string) => void;
}

interface Filled {
  readonly service: BenchService;
  readonly world: LotWorld;
  readonly db: Db;
  readonly stapleId: string;
}

async function fill(years: number, { seed, say }: Options): Promise<Filled> {
  const service = await startBenchService(SETTINGS);
  const { databaseUrl, groupId, dir } = service;
  const world = await fillWithLots({ databaseUrl, groupId, dir }, { seed, years, say });
  const faults = await faultsInRows(databaseUrl);
  if (faults.length > 0) throw new Error(`what was filled in is wrong: ${faults.join('; ')}`);
  const db = createDb({ url: databaseUrl, poolSize: 2, preparedStatements: true, log: createLog('warn') });
  return { service, world, db, stapleId: world.ids[world.graph.staple] ?? '' };
}

async function drop({ service, db }: Filled): Promise<void> {
  await db.end();
  await service.stop();
}

const read = <T>({ db, service }: Filled, fn: (tx: Tx) => Promise<T>): Promise<T> =>
  db.inGroup(service.groupId, 'read', fn);

const reachOf = (filled: Filled, lotId: string): Promise<ScopeStanding> =>
  read(filled, (tx) => scopeStanding(tx, { lotId, direction: 'forward' }));

const bareWalk = (filled: Filled, lotId: string): Promise<object[]> =>
  read(filled, (tx) =>
    tx.query(
      `with recursive walk (lot_id) as (
         select $2::uuid
         union
         select le.child_lot_id from walk w join lot_edge le on le.group_id = $1::uuid and le.parent_lot_id = w.lot_id
       ) select lot_id from walk`,
      [filled.service.groupId, lotId],
    ),
  );

const side = (filled: Filled, lotIds: readonly string[], what: typeof reachOf | typeof bareWalk): Side => ({
  prepare: () =>
    Promise.resolve({
      units: lotIds.length,
      async run() {
        for (const lotId of lotIds) await what(filled, lotId);
      },
    }),
});

/** Deliveries from all over the year, the staple not among them. */
function typicalLots({ graph, ids }: LotWorld, most: number): string[] {
  const supplied = ids.filter(
    (_, lot) => graph.kinds[lot] === SUPPLIED && lot !== graph.staple && lot < 0.9 * graph.lots,
  );
  const step = Math.floor(supplied.length / most);
  return supplied.filter((_, at) => at % step === 0).slice(0, most);
}

async function get({ service }: Filled, path: string): Promise<string> {
  const answer = await fetch(service.url + path, { headers: { authorization: service.authorization } });
  const text = await answer.text();
  if (answer.status !== 200) throw new Error(`${path} answered ${answer.status}: ${text.slice(0, 500)}`);
  return text;
}

/** The ids of the lots in a streamed trace, read as they come. */
async function streamedLots({ service, stapleId }: Filled): Promise<string[]> {
  const headers = { authorization: service.authorization };
  const answer = await fetch(`${service.url}/v1/lots/${stapleId}/trace?format=ndjson`, { headers });
  const lotIds: string[] = [];
  let rest = '';
  let last = '';
  const take = (line: string): void => {
    last = line;
    const lotId = /^\{"record":"lot","lotId":"([^"]+)"/.exec(line)?.[1];
    if (lotId !== undefined) lotIds.push(lotId);
  };
  for await (const piece of answer.body as unknown as AsyncIterable<Uint8Array>) {
    const lines = (rest + Buffer.from(piece).toString('latin1')).split('\n');
    rest = lines.pop() ?? '';
    for (const line of lines) take(line);
  }
  if (!last.startsWith('{"record":"end"')) throw new Error(`the trace was broken off: ${last.slice(0, 500)}`);
  return lotIds;
}

/** What was said, against the plain walk; then each check once more with something wrong in the database, which it must see. */
async function check(filled: Filled): Promise<string[]> {
  const { world, service, stapleId } = filled;
  const { staple } = world.graph;
  const faults = [
    ...faultsInLots(world, staple, await streamedLots(filled)),
    ...faultsInSums(world, staple, KITCHEN, await reachOf(filled, stapleId)),
  ];
  for (const lotId of typicalLots(world, 25))
    faults.push(...faultsInSums(world, world.numbers.get(lotId) ?? 0, KITCHEN, await reachOf(filled, lotId)));
  if (faults.length > 0) throw new Error(`what was said is wrong: ${faults.slice(0, 5).join('; ')}`);
  const child = world.ids[plainWalk(world, staple).find((lot) => lot !== staple) ?? 0] ?? '';
  const planted = [
    [
      'an edge that hides what its child became',
      'update lot_edge set child_leads_on = $2 where child_lot_id = $1',
      child,
      false,
      true,
    ],
    ['one gram too many', 'update balance set quantity = quantity + $2 where lot_id = $1 and sign = 0', child, 1, -1],
  ] as const;
  const client = new pg.Client(service.databaseUrl);
  await client.connect();
  const caught: string[] = [];
  for (const [what, sql, lotId, wrong, right] of planted) {
    await client.query(sql, [lotId, wrong]);
    const seen = faultsInSums(world, staple, KITCHEN, await reachOf(filled, stapleId));
    await client.query(sql, [lotId, right]);
    if (seen.length === 0) throw new Error(`${what} was not noticed`);
    caught.push(`${what} is noticed: ${seen[0]}`);
  }
  await client.end();
  return ['lots node for node and sums account for account are as a plain walk finds them', ...caught];
}

const shown = ({ min, median, max }: Measured['ratio']): string =>
  `${(1 / median).toFixed(2)} (${(1 / max).toFixed(2)} to ${(1 / min).toFixed(2)})`;

export async function lotReach(options: Options): Promise<Result> {
  const small = await fill(1, options);
  try {
    return await compare(small, options);
  } finally {
    await drop(small);
  }
}

async function compare(small: Filled, options: Options): Promise<Result> {
  const { quick, large, seed, say } = options;
  const checks = await check(small);
  const reached = plainWalk(small.world, small.world.graph.staple).length;
  const turns = quick ? { pairs: 3, warmUps: 2 } : { pairs: 15, warmUps: 3 };
  const cases: Record<string, Measured> = {};
  const staple = [small.stapleId];
  const typical = typicalLots(small.world, 400);
  cases['staple'] = await measure(side(small, staple, reachOf), side(small, staple, bareWalk), turns);
  say(`staple, ${reached} lots: ${shown(cases['staple'].ratio)} times as long as a bare walk`);
  const watched: Record<string, unknown> = { lotsOfStaple: reached };
  const load = quick ? { typical: 300, staple: 10 } : { typical: 2_000, staple: 60 };
  const send = (lotId: string) => get(small, `/v1/lots/${lotId}/reach`).then(() => undefined);
  for (let no = 0; no < 50; no += 1) await send(typical[no] ?? '');
  const typicalMs = await loadOpenly({ requests: load.typical, perSecond: 100 }, (no) =>
    send(typical[no % typical.length] ?? ''),
  );
  for (let no = 0; no < 3; no += 1) await send(small.stapleId);
  const stapleMs = await loadOpenly({ requests: load.staple, perSecond: 2 }, () => send(small.stapleId));
  watched['typical over HTTP'] = { ...typicalMs, wantedP99Ms: TYPICAL_P99_MS, met: typicalMs.p99Ms <= TYPICAL_P99_MS };
  watched['staple over HTTP'] = { ...stapleMs, wantedP99Ms: STAPLE_P99_MS, met: stapleMs.p99Ms <= STAPLE_P99_MS };
  await streamedLots(small);
  const peakMib = small.service.peakMib();
  watched['peak memory of the service, MiB'] = { peakMib, most: MOST_MIB };
  say(`typical p99 ${typicalMs.p99Ms} ms, staple p99 ${stapleMs.p99Ms} ms, the service had ${peakMib} MiB at most`);
  let passed = cases['staple'].ratio.median >= GATE && peakMib <= MOST_MIB;
  if (large) {
    const ten = await fill(10, options);
    try {
      checks.push(...(await check(ten)).map((one) => `ten times the database: ${one}`));
      const measured = await measure(side(ten, staple, reachOf), side(small, staple, reachOf), turns);
      cases['ten times the database'] = measured;
      say(`ten times the database: ${shown(measured.ratio)} times as long`);
      passed &&= measured.ratio.median >= LARGE_GATE;
    } finally {
      await drop(ten);
    }
  }
  const versions = versionsOf(small.service.serverVersion);
  return { name: 'lot-reach', unit: 'scopes/s', gate: GATE, passed, seed, versions, cases, watched, checks };
}
