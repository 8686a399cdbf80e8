/** After timing: what both sides wrote is counted in the database, against what the work was, not against each other. */
import pg from 'pg';
import type { Consignment } from './pack-world.ts';

interface Counted {
  readonly entries: number;
  readonly postings: number;
  readonly scans: number;
  readonly facts: number;
}

const ROWS = `
select (select count(*) from entry e where e.group_id = $1::uuid and e.scan_id is not null and e.entry_id in
         (select s.scan_id from scan s where s.group_id = $1::uuid and s.lot_id = any($2::uuid[])))::int as entries,
       (select count(*) from posting p join entry e on e.group_id = p.group_id and e.seq = p.seq
         where p.group_id = $1::uuid and p.lot_id = any($2::uuid[]) and e.scan_id is not null)::int as postings,
       (select count(*) from scan s where s.group_id = $1::uuid and s.lot_id = any($2::uuid[]))::int as scans,
       (select count(*) from fact f join scan s on s.group_id = f.group_id and s.scan_id = f.fact_id
         where f.group_id = $1::uuid and s.lot_id = any($2::uuid[]))::int as facts`;

/** Per account kind: what is there now, and what all postings of the lots come to. They must agree. */
const BALANCES = `
select a.kind, sum(b.quantity)::int as now,
       sum((select coalesce(sum(case when p.to_account_id = b.account_id then p.quantity else -p.quantity end), 0)
          from posting p where p.group_id = b.group_id and p.lot_id = b.lot_id
           and b.account_id in (p.from_account_id, p.to_account_id)))::int as posted
  from balance b join account a on a.group_id = b.group_id and a.account_id = b.account_id
 where b.group_id = $1::uuid and b.lot_id = any($2::uuid[])
 group by a.kind`;

/**
 * Every pack of these consignments must have been taken in, put away and used: three rows of each table per pack, nothing left on the
 * road or in a place, as many served as were packed. Answers what is wrong; empty when all is as it should be.
 */
export async function faultsIn(url: string, groupId: string, sent: readonly Consignment[]): Promise<string[]> {
  const lots = sent.flatMap((one) => one.lots);
  const packs = lots.reduce((sum, lot) => sum + lot.packs, 0);
  const values = [groupId, lots.map((lot) => lot.lotId)];
  const client = new pg.Client(url);
  await client.connect();
  try {
    const faults: string[] = [];
    const counted = (await client.query<Counted>(ROWS, values)).rows[0] as Counted;
    for (const [table, found] of Object.entries(counted) as [string, number][]) {
      if (found !== 3 * packs) faults.push(`${table}: ${found} rows, not ${3 * packs}`);
    }
    const balances = (await client.query<{ kind: string; now: number; posted: number }>(BALANCES, values)).rows;
    const wanted: Record<string, number> = { served: packs, place: 0, transit: 0, produced: -packs };
    for (const [kind, quantity] of Object.entries(wanted)) {
      const found = balances.find((row) => row.kind === kind)?.now;
      if (found !== quantity) faults.push(`balance of ${kind}: ${found}, not ${quantity}`);
    }
    for (const { kind, now, posted } of balances) {
      if (now !== posted) faults.push(`balance of ${kind}: ${now}, but its postings come to ${posted}`);
      if (wanted[kind] === undefined && now !== 0) faults.push(`balance of ${kind}: ${now}, not 0`);
    }
    return faults;
  } finally {
    await client.end();
  }
}

export async function analyze(url: string): Promise<void> {
  const client = new pg.Client(url);
  await client.connect();
  await client.query('vacuum analyze');
  await client.end();
}
