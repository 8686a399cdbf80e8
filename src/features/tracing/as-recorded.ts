/**
 * As it was recorded at a past moment. A moment is an entry: the last one recorded by then. Edges and holds know when they were recorded
 * and when they ended. Names are today's. Refusal: `rule-broken`, for a moment ahead of now or before the lot was known.
 */
import { Refused } from '../../domain/errors.ts';
import { fromInstant } from '../../domain/time.ts';
import type { Tx } from '../../platform/db/db.ts';
import { findHoldsReaching, type ReachingHold } from '../ledger/index.ts';
import type { AsOf } from './queries.ts';

const refused = (detail: string): Refused =>
  new Refused('rule-broken', detail, { errors: [{ detail, pointer: '#/query/recordedAt' }] });

/** @param recordedAt as asked for; left out: now, which is null */
export async function momentOf(
  tx: Tx,
  lot: { readonly lotId: string; readonly code: string; readonly bornAt: Date },
  recordedAt: string | undefined,
  nowMs: number,
): Promise<AsOf | null> {
  if (recordedAt === undefined) return null;
  const atMs = fromInstant(recordedAt);
  if (atMs > nowMs) throw refused('That moment is ahead of now.');
  const { seq, firstSeq } = await findMoment(tx, lot.lotId, atMs);
  // A lot that no entry names (one that stands for all there ever was) is known from its birth.
  const known = firstSeq === null ? lot.bornAt.getTime() <= atMs : firstSeq <= seq;
  if (!known) throw refused(`Lot ${lot.code} was not recorded by then.`);
  return { seq, atMs };
}

/**
 * The last entry recorded by a moment, found by halving: `recorded_at` never falls from one entry to the next, and there is no index on
 * it. And the first entry of the lot.
 */
async function findMoment(tx: Tx, lotId: string, atMs: number): Promise<{ seq: number; firstSeq: number | null }> {
  const rows = await tx.query<{ seq: number; firstSeq: number | null }>(
    `with recursive halves (low, high) as (
       select 0::int8, gh.last_seq from group_head gh where gh.group_id = $1::uuid
       union all
       select case when e.recorded_at <= to_timestamp($3::float8 / 1000) then e.seq else h.low end,
              case when e.recorded_at <= to_timestamp($3::float8 / 1000) then h.high else e.seq - 1 end
         from halves h
         join entry e on e.group_id = $1::uuid and e.seq = (h.low + h.high + 1) / 2
        where h.low < h.high
     )
     select max(h.low) as seq,
            (select min(p.seq) from posting p where p.group_id = $1::uuid and p.lot_id = $2::uuid) as "firstSeq"
       from halves h`,
    [tx.groupId, lotId, atMs],
  );
  return rows[0] ?? { seq: 0, firstSeq: null };
}

/** Holds that reached these lots at a past moment and were open then, as far as was recorded. Those of a drill bind nothing. */
async function findHoldsThen(tx: Tx, lotIds: readonly string[], { atMs }: AsOf): Promise<ReachingHold[]> {
  return tx.query<ReachingHold>(
    `select h.hold_id as "holdId", h.kind, hr.lot_id as "lotId", h.lot_id as "rootLotId", h.site_id as "siteId",
            h.account_id as "accountId", h.placed_at as "placedAt", null::timestamptz as "liftedAt"
       from hold_reach hr
       join hold h on h.group_id = hr.group_id and h.hold_id = hr.hold_id
      where hr.group_id = $1::uuid and hr.lot_id = any($2::uuid[]) and h.kind not in ('drill', 'use-by')
        and hr.reached_at <= to_timestamp($3::float8 / 1000) and h.placed_at <= to_timestamp($3::float8 / 1000)
        and (h.lifted_at is null or h.lifted_at > to_timestamp($3::float8 / 1000))
      order by h.placed_at, h.hold_id`,
    [tx.groupId, lotIds, atMs],
  );
}

/** Open holds that reach these lots, now or then. */
export async function holdsOf(
  tx: Tx,
  lotIds: readonly string[],
  asOf: AsOf | null,
  nowMs: number,
): Promise<ReachingHold[]> {
  if (asOf !== null) return findHoldsThen(tx, lotIds, asOf);
  // a date of one part holds nothing back
  return (await findHoldsReaching(tx, lotIds, nowMs)).filter(
    (hold) => hold.liftedAt === null && hold.kind !== 'use-by',
  );
}
