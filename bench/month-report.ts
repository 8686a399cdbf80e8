/**
 * The month's report over four million postings of one group (month-world.ts): now, and as recorded at a past moment. Held against the bare
 * GROUP BY of the same postings, which answers sums by lot and accounts and none of the report's; both by the service's own way of opening a
 * transaction, under its role and row policies. The bare one is counted in the database, so that it sends nothing.
 *
 * Then that month is closed over HTTP; how long it takes until its files are ready is watched.
 */
import pg from 'pg';
import { digestPostings, makeMonthReport, type MonthReportAnswer } from '../src/features/reporting/index.ts';
import { createDb, type Db } from '../src/platform/db/db.ts';
import { createLog } from '../src/platform/log.ts';
import { closeMonth } from './month-close.ts';
import { measure, versionsOf, type Measured, type Result, type Side } from './measure.ts';
import { fillWithMonth, type MonthWorld } from './month-world.ts';
import { startBenchService } from './service.ts';

/** Ours may take 1.5 times as long as the bare GROUP BY. */
const GATE = 1 / 1.5;
const MONTH = '2026-10';
/** 24.6 postings a lot, and two in ten of them with seven: four million. */
const LOTS = 150_000;
/** Entries after a checkpoint of costs; no end of a stretch of sums either. The cut of the middle is on a checkpoint, within a stretch. */
const BETWEEN = 37_000;
/** A quarter of a small server's memory, as Postgres' own manual advises to begin with; the same for both sides. */
const SETTINGS = { shared_buffers: '2GB', work_mem: '64MB' };
const TIMEOUT_MS = 600_000;

interface Options {
  readonly seed: number;
  readonly quick: boolean;
  readonly say: (line: string) => void;
}

interface Filled {
  readonly db: Db;
  readonly groupId: string;
  readonly databaseUrl: string;
  readonly world: MonthWorld;
}

const cutAt = (seq: number) => ({ seq, moneyNo: 0, recordedAtMs: 0 });

const reportAt = ({ db, groupId }: Filled, seq: number): Promise<MonthReportAnswer> =>
  db.inGroup(groupId, 'read', (tx) =>
    makeMonthReport(tx, { month: MONTH, throughMonth: MONTH, siteIds: null, cut: cutAt(seq), restated: false }),
  );

/** Bounded by the cut as well where the report is. */
const bareSums = ({ db, groupId }: Filled, seq: number): Promise<object[]> =>
  db.inGroup(groupId, 'read', (tx) =>
    tx.query(
      `select count(*) as rows, sum(x.quantity)::text as quantity
         from (select p.lot_id, p.from_account_id, p.to_account_id, p.reason, p.destination, sum(p.quantity) as quantity
                 from posting p
                where p.group_id = $1::uuid and p.occurred_on >= '2026-10-01' and p.occurred_on < '2026-11-01' and p.seq <= $2::int8
                group by p.lot_id, p.from_account_id, p.to_account_id, p.reason, p.destination) x`,
      [groupId, seq],
    ),
  );

const side = (filled: Filled, seq: number, what: (filled: Filled, seq: number) => Promise<unknown>): Side => ({
  prepare: () => Promise.resolve({ units: 1, run: async () => void (await what(filled, seq)) }),
});

/** By item, plainly from the postings: what came from and went to each kind of account, and what stands. */
async function plainSums(
  client: pg.Client,
  groupId: string,
  seq: number,
): Promise<Map<string, Record<string, number>>> {
  const { rows } = await client.query<{ item: string; line: string; quantity: string; fine: string }>(
    `select l.item_id as item, x.line, sum(x.quantity)::text as quantity, sum(x.quantity * c.unit_fine)::text as fine
       from (select p.lot_id, p.quantity,
                    case when f.kind = 'supplier' then 'received' when f.kind = 'produced' then 'produced' when t.kind = 'consumed' then 'consumed'
                         when t.kind = 'served' then 'served' when t.kind = 'waste' then 'wasted' end as line
               from posting p join account f on f.account_id = p.from_account_id join account t on t.account_id = p.to_account_id
              where p.group_id = $1 and p.seq <= $2) x
       join lot l on l.lot_id = x.lot_id
       left join lot_cost c on c.lot_id = x.lot_id
      where x.line is not null group by 1, 2`,
    [groupId, seq],
  );
  const sums = new Map<string, Record<string, number>>();
  for (const { item, line, quantity, fine } of rows) {
    const known = sums.get(item) ?? {};
    sums.set(item, { ...known, [line]: Number(quantity), [`${line} in money`]: Number(BigInt(fine) / 10n ** 18n) });
  }
  return sums;
}

const LINES = ['received', 'produced', 'consumed', 'served', 'wasted'] as const;

function faultsIn(report: MonthReportAnswer, plain: ReadonlyMap<string, Record<string, number>>): string[] {
  const faults: string[] = [];
  if (report.items.length !== plain.size) faults.push(`${report.items.length} items, not ${plain.size}`);
  for (const { itemId, itemCode, inUnits, inMoney } of report.items) {
    const sums = plain.get(itemId) ?? {};
    for (const line of LINES) {
      const wanted = sums[line] ?? 0;
      if (inUnits[line] !== wanted) faults.push(`${itemCode} ${line}: ${inUnits[line]}, not ${wanted}`);
      const money = sums[`${line} in money`] ?? 0;
      if (Math.abs(inMoney[line] - money) > 1)
        faults.push(`${itemCode} ${line} in money: ${inMoney[line]}, not ${money}`);
    }
    const closing =
      (sums['received'] ?? 0) +
      (sums['produced'] ?? 0) -
      LINES.slice(2).reduce((sum, line) => sum + (sums[line] ?? 0), 0);
    if (inUnits.closing !== closing) faults.push(`${itemCode} closing: ${inUnits.closing}, not ${closing}`);
    if (inUnits.opening !== 0) faults.push(`${itemCode} opening: ${inUnits.opening}, not 0`);
  }
  return faults;
}

/** Sums against the postings, now and then; and once more with one piece too many in a sum, which must be seen. */
async function check(filled: Filled): Promise<string[]> {
  const { databaseUrl, groupId, world } = filled;
  const client = new pg.Client(databaseUrl);
  await client.connect();
  try {
    for (const seq of [world.postings, world.middleSeq]) {
      const faults = faultsIn(await reportAt(filled, seq), await plainSums(client, groupId, seq));
      if (faults.length > 0) throw new Error(`at ${seq} the report is wrong: ${faults.slice(0, 5).join('; ')}`);
    }
    const one = `(group_id, to_seq, row_no) = (select m.group_id, m.to_seq, m.row_no from month_flow m join flow_way w using (way_no) where w.to_kind = 'served' limit 1)`;
    await client.query(`update month_flow set quantity = quantity + 1 where ${one}`);
    const seen = faultsIn(await reportAt(filled, world.postings), await plainSums(client, groupId, world.postings));
    await client.query(`update month_flow set quantity = quantity - 1 where ${one}`);
    await client.query('vacuum analyze month_flow');
    if (seen.length === 0) throw new Error('one piece too many in a sum was not noticed');
    return [
      'units and money of every item and line are as the postings say, now and then',
      `a wrong sum is noticed: ${seen[0]}`,
    ];
  } finally {
    await client.end();
  }
}

const shown = ({ min, median, max }: Measured['ratio']): string =>
  `${(1 / median).toFixed(2)} (${(1 / max).toFixed(2)} to ${(1 / min).toFixed(2)})`;

export async function monthReport({ seed, quick, say }: Options): Promise<Result> {
  const service = await startBenchService(SETTINGS);
  const { databaseUrl, groupId } = service;
  const db = createDb({
    url: databaseUrl,
    poolSize: 2,
    preparedStatements: true,
    log: createLog('warn'),
    statementTimeoutMs: TIMEOUT_MS,
  });
  try {
    const world = await fillWithMonth(databaseUrl, groupId, { seed, lots: quick ? LOTS / 10 : LOTS, say });
    say(`${world.postings} postings of ${world.lots} lots`);
    const filled: Filled = { db, groupId, databaseUrl, world };
    const job = digestPostings({ db });
    const startedAt = performance.now();
    // each run sums a bounded number of stretches
    for (let run = 0; run <= world.postings / 1_000_000; run += 1) await job.run({ groupId });
    const digestS = Math.round((performance.now() - startedAt) / 1000);
    const [sums] = await db.inGroup(groupId, 'read', (tx) =>
      tx.query<{ rows: number }>(`select count(*)::int8 as rows from month_flow where group_id = $1::uuid`, [groupId]),
    );
    const owner = new pg.Client(databaseUrl);
    await owner.connect();
    await owner.query('vacuum analyze month_flow, flow_stretch');
    await owner.end();
    say(`summed in ${digestS} s to ${sums?.rows} rows`);
    const checks = await check(filled);
    const turns = quick ? { pairs: 2, warmUps: 1 } : { pairs: 5, warmUps: 1 };
    const cases: Record<string, Measured> = {};
    for (const [name, seq] of [
      ['now', world.postings],
      ['as recorded at a past moment', world.middleSeq],
      ['as recorded between checkpoints of costs', world.middleSeq + BETWEEN],
    ] as const) {
      const measured = await measure(side(filled, seq, reportAt), side(filled, world.postings, bareSums), turns);
      cases[name] = measured;
      say(
        `${name}: ${shown(measured.ratio)} times as long as the bare GROUP BY, ${(1 / measured.ours.median).toFixed(1)} s`,
      );
    }
    // Last, because it adds to the books.
    const close = await closeMonth(service, MONTH);
    say(`closed in ${close.readyS} s (checks and cut ${close.cutS} s): ${JSON.stringify(close.steps)}`);
    const passed = Object.values(cases).every((one) => one.ratio.median >= GATE);
    const watched = { postings: world.postings, lots: world.lots, sums: sums?.rows, digestS, close };
    const versions = versionsOf(service.serverVersion);
    return { name: 'month-report', unit: 'reports/s', gate: GATE, passed, seed, versions, cases, watched, checks };
  } finally {
    await db.end();
    await service.stop();
  }
}
