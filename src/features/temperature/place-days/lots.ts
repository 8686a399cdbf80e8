/** Which lots were at a subject. Reads the ledger's postings; marks lots for whoever computes what is left of their lives. */
import { DAY_MS } from '../../../domain/exposure/shapes.ts';
import type { Tx } from '../../../platform/db/db.ts';
import { wakeJob } from '../../../platform/jobs.ts';
import { placeIdOf } from './watch.ts';

/** No journey takes longer. */
const LONGEST_JOURNEY_MS = 31 * DAY_MS;

export interface AccountTime {
  readonly accountId: string;
  readonly fromMs: number;
  readonly toMs: number;
}

interface Journey {
  readonly dispatchId: string;
  readonly departedAtMs: number;
}

/** Dispatches that left on a vehicle, or with a crate, between two times. */
async function listJourneys(tx: Tx, subject: string, fromMs: number, toMs: number): Promise<Journey[]> {
  const vehicle = subject.startsWith('vehicle:') ? subject.slice('vehicle:'.length) : null;
  const crate = subject.startsWith('crate:') ? subject.slice('crate:'.length) : null;
  return tx.query<Journey>(
    `select d.dispatch_id as "dispatchId", (extract(epoch from d.departed_at) * 1000)::int8 as "departedAtMs"
       from dispatch d
      where d.group_id = $1::uuid and d.departed_at >= to_timestamp($4::float8 / 1000) and d.departed_at < to_timestamp($5::float8 / 1000)
        and (d.vehicle = $2::text or d.dispatch_id in (
              select l.dispatch_id from dispatch_line l where l.group_id = $1::uuid and l.crate_code = $3::text))
      order by d.dispatch_id`,
    [tx.groupId, vehicle, crate, fromMs, toMs],
  );
}

/** The accounts that food at a subject was booked in between two times, each with the part of that time it could be there. */
export async function accountsAt(tx: Tx, subject: string, fromMs: number, toMs: number): Promise<AccountTime[]> {
  const placeId = placeIdOf(subject);
  if (placeId !== null) return [{ accountId: placeId, fromMs, toMs }];
  const journeys = await listJourneys(tx, subject, fromMs - LONGEST_JOURNEY_MS, toMs);
  return journeys.map(({ dispatchId, departedAtMs }) => ({
    accountId: dispatchId,
    fromMs: Math.max(fromMs, departedAtMs),
    toMs,
  }));
}

/**
 * Accounts and times, each with its shortfall twin: what was seen to leave before it was known to have come is booked there, and by event
 * time it stood in the account all the same.
 */
const ACCOUNT_TIMES = `w as materialized (
       select t.account_id, t.from_ms, t.to_ms, coalesce(a.account_id, t.account_id) as twin_id
         from unnest($2::uuid[], $3::float8[], $4::float8[]) as t(account_id, from_ms, to_ms)
         left join account a on a.group_id = $1::uuid and a.twin_of = t.account_id)`;

/** Lots in some accounts at any moment of their times: there now, or gone after the time began, and come before it ended. */
export async function markLots(tx: Tx, accounts: readonly AccountTime[]): Promise<number> {
  if (accounts.length === 0) return 0;
  const rows = await tx.query<{ lotId: string }>(
    `with ${ACCOUNT_TIMES}
     insert into lot_exposure_dirty (group_id, lot_id)
     select distinct $1::uuid, x.lot_id
       from w
      cross join lateral (
        select b.lot_id from balance b
         where b.group_id = $1::uuid and b.account_id in (w.account_id, w.twin_id) and b.quantity <> 0
        union
        select p.lot_id from posting p
         where p.group_id = $1::uuid and p.from_account_id in (w.account_id, w.twin_id)
           and p.occurred_at > to_timestamp(w.from_ms / 1000)) x
      where exists (select from posting p where p.group_id = $1::uuid and p.lot_id = x.lot_id
                       and p.to_account_id in (w.account_id, w.twin_id)
                       and p.occurred_at < to_timestamp(w.to_ms / 1000))
      order by x.lot_id
     on conflict (group_id, lot_id) do update set lot_id = excluded.lot_id
     returning lot_id as "lotId"`,
    [
      tx.groupId,
      accounts.map((one) => one.accountId),
      accounts.map((one) => one.fromMs),
      accounts.map((one) => one.toMs),
    ],
  );
  return rows.length;
}

export interface LotThere {
  readonly lotId: string;
  readonly lotCode: string;
  readonly itemName: string;
  readonly accountId: string;
  readonly unit: string;
  /** the most that was there at one moment of the time */
  readonly quantity: number;
}

/**
 * Lots in some accounts at any moment of their times, and how much at most at once. By event time, so the order in which facts were recorded changes
 * nothing; a reversal is a posting back at the time of what it undoes.
 */
export async function listLotsThere(tx: Tx, accounts: readonly AccountTime[]): Promise<LotThere[]> {
  if (accounts.length === 0) return [];
  return tx.query<LotThere>(
    `with ${ACCOUNT_TIMES}, wanted as (
       select distinct w.account_id, w.twin_id, w.from_ms, w.to_ms, x.lot_id
         from w
        cross join lateral (
          select b.lot_id from balance b
           where b.group_id = $1::uuid and b.account_id in (w.account_id, w.twin_id) and b.quantity <> 0
          union
          select p.lot_id from posting p
           where p.group_id = $1::uuid and p.from_account_id in (w.account_id, w.twin_id)
             and p.occurred_at > to_timestamp(w.from_ms / 1000)) x),
     moved as (
       select w.account_id, w.lot_id, greatest(p.occurred_at, to_timestamp(w.from_ms / 1000)) as at,
              sum(case when p.to_account_id in (w.account_id, w.twin_id) then p.quantity else -p.quantity end) as change
         from wanted w
         join posting p on p.group_id = $1::uuid and p.lot_id = w.lot_id and p.occurred_at < to_timestamp(w.to_ms / 1000)
          and (p.to_account_id in (w.account_id, w.twin_id)) <> (p.from_account_id in (w.account_id, w.twin_id))
        group by 1, 2, 3),
     stood as (
       select m.account_id, m.lot_id, sum(m.change) over (partition by m.account_id, m.lot_id order by m.at) as quantity from moved m)
     select s.lot_id as "lotId", l.code as "lotCode", i.name as "itemName", s.account_id as "accountId", l.unit,
            max(s.quantity)::int8 as quantity
       from stood s
       join lot l on l.group_id = $1::uuid and l.lot_id = s.lot_id
       join item i on i.group_id = $1::uuid and i.item_id = l.item_id
      where s.quantity > 0
      group by s.lot_id, l.code, i.name, s.account_id, l.unit
      order by l.code, s.account_id`,
    [
      tx.groupId,
      accounts.map((one) => one.accountId),
      accounts.map((one) => one.fromMs),
      accounts.map((one) => one.toMs),
    ],
  );
}

/** The job that computes what is left of lots' lives. */
export async function wakeShelfLife(tx: Tx): Promise<void> {
  await wakeJob(tx, 'recompute-shelf-life');
}
