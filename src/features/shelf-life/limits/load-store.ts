/** SQL that limits are computed from: where lots were, what they are, by whose rules. All of it for many lots at once. */
import type { Tx } from '../../../platform/db/db.ts';

const ms = (column: string): string => `(extract(epoch from ${column}) * 1000)::int8`;

export interface PostingRow {
  readonly lotId: string;
  readonly occurredAtMs: number;
  readonly fromAccountId: string;
  readonly toAccountId: string;
  readonly quantity: number;
  readonly processId: string | null;
}

/** Postings that stand. What a batch, packing run or conversion took names it as the edges to what was made do. */
export async function listStandingPostings(tx: Tx, lotIds: readonly string[]): Promise<PostingRow[]> {
  return tx.query<PostingRow>(
    `select p.lot_id as "lotId", ${ms('p.occurred_at')} as "occurredAtMs", p.from_account_id as "fromAccountId",
            p.to_account_id as "toAccountId", p.quantity,
            case when e.kind = 'conversion' then e.fact_id else coalesce(e.packing_run_id, e.batch_id) end as "processId"
       from posting p
       join entry e on e.group_id = p.group_id and e.seq = p.seq and e.kind <> 'reversal'
      where p.group_id = $1::uuid and p.lot_id = any($2::uuid[])
        and not exists (select from entry r where r.group_id = e.group_id and r.reverses_entry_id = e.entry_id)
      order by p.lot_id, p.occurred_at, p.seq, p.line_no`,
    [tx.groupId, lotIds],
  );
}

export interface AccountRow {
  readonly accountId: string;
  readonly kind: 'place' | 'transit' | 'supplier' | 'consumed' | 'produced' | 'served' | 'waste' | 'variance';
  readonly twinOf: string | null;
  readonly siteId: string;
  readonly toSiteId: string | null;
  /** transit: the van it went with, and when the door closed behind it */
  readonly vehicle: string | null;
  readonly doorAtMs: number | null;
  readonly receivingPlaceId: string | null;
}

export async function listAccounts(tx: Tx, accountIds: readonly string[]): Promise<AccountRow[]> {
  return tx.query<AccountRow>(
    `select a.account_id as "accountId", replace(a.kind, '-shortfall', '') as kind, a.twin_of as "twinOf", a.site_id as "siteId",
            a.to_site_id as "toSiteId", d.vehicle, ${ms('t.door_at')} as "doorAtMs", si.receiving_place_id as "receivingPlaceId"
       from account a
       left join dispatch d on d.group_id = a.group_id and d.dispatch_id = a.account_id
       left join site si on si.group_id = a.group_id and si.site_id = a.to_site_id
       left join lateral (
         select x.door_at from drop_time x
          where x.group_id = a.group_id and x.dispatch_id = a.account_id and x.door_at is not null
          order by x.position desc limit 1) t on true
      where a.group_id = $1::uuid and a.account_id = any($2::uuid[])`,
    [tx.groupId, accountIds],
  );
}

export interface CrateRow {
  readonly lotId: string;
  readonly dispatchId: string;
  readonly crateCode: string;
}

/** The crate that a lot went in, where all of it that a dispatch has went in one. */
export async function listSoleCrates(tx: Tx, lotIds: readonly string[]): Promise<CrateRow[]> {
  return tx.query<CrateRow>(
    `select l.lot_id as "lotId", l.dispatch_id as "dispatchId", min(l.crate_code) as "crateCode"
       from dispatch_line l
      where l.group_id = $1::uuid and l.lot_id = any($2::uuid[])
      group by l.lot_id, l.dispatch_id
     having count(distinct l.crate_code) = 1 and count(l.crate_code) = count(*)`,
    [tx.groupId, lotIds],
  );
}

export interface OriginRow {
  readonly lotId: string;
  readonly batchId: string;
  readonly steps: readonly string[];
}

/** The batch that a lot comes from, also by way of what was opened, portioned, frozen or thawed since. */
export async function listOrigins(tx: Tx, lotIds: readonly string[]): Promise<OriginRow[]> {
  return tx.query<OriginRow>(
    `with recursive made (asked_id, lot_id, depth) as (
       select x.lot_id, x.lot_id, 0 from unnest($2::uuid[]) as x(lot_id)
       union all
       select m.asked_id, c.from_lot_id, m.depth + 1
         from made m join conversion c on c.group_id = $1::uuid and c.to_lot_id = m.lot_id
        where m.depth < 10
     )
     select distinct on (m.asked_id) m.asked_id as "lotId", b.batch_id as "batchId", coalesce(b.steps, r.steps) as steps
       from made m
       join lot l on l.group_id = $1::uuid and l.lot_id = m.lot_id
       left join packing_run pr on pr.group_id = l.group_id and pr.packing_run_id = l.packing_run_id
       join batch b on b.group_id = l.group_id and b.batch_id = coalesce(l.batch_id, pr.batch_id)
       join recipe r on r.group_id = b.group_id and r.recipe_id = b.recipe_id
      order by m.asked_id, m.depth`,
    [tx.groupId, lotIds],
  );
}

export interface PresumedRow {
  readonly lotId: string;
  readonly placeId: string;
  readonly sinceMs: number;
}

/** Parts that nobody has seen where they are presumed to be. */
export async function listPresumedParts(tx: Tx, lotIds: readonly string[]): Promise<PresumedRow[]> {
  return tx.query<PresumedRow>(
    `select f.lot_id as "lotId", split_part(f.subject, '|', 2)::uuid as "placeId", ${ms('f.occurred_at')} as "sinceMs"
       from finding f
      where f.group_id = $1::uuid and f.kind = 'place-presumed' and f.status = 'open' and f.lot_id = any($2::uuid[])`,
    [tx.groupId, lotIds],
  );
}

export interface TakenRow {
  readonly lotId: string;
  readonly parentCode: string;
  readonly effectiveAtMs: number;
  readonly rulingCode: string;
  readonly forbidden: boolean;
}

/** By what it was made: the earliest computed end of what was taken for it, no kill step between. */
export async function listInputEnds(tx: Tx, lotIds: readonly string[]): Promise<TakenRow[]> {
  return tx.query<TakenRow>(
    `select distinct on (e.child_lot_id) e.child_lot_id as "lotId", l.code as "parentCode", ${ms('r.effective_at')} as "effectiveAtMs",
            coalesce(r.forbidden_code, r.ruling_code) as "rulingCode", r.forbidden_code is not null as forbidden
       from lot_edge e
       join lateral (
         select s.effective_at, s.ruling_code, s.forbidden_code from shelf_life_result s
          where s.group_id = e.group_id and s.lot_id = e.parent_lot_id and s.part_id = e.process_id
          order by s.result_no desc limit 1) r on r.effective_at is not null
       join lot l on l.group_id = e.group_id and l.lot_id = e.parent_lot_id
      where e.group_id = $1::uuid and e.child_lot_id = any($2::uuid[]) and e.caps_use_by
      order by e.child_lot_id, r.forbidden_code is null, r.effective_at, l.code`,
    [tx.groupId, lotIds],
  );
}

export interface OverruledRow {
  readonly lotId: string;
  readonly accountId: string;
  readonly code: string;
  readonly endsAtMs: number | null;
  readonly reason: string;
  readonly decidedAtMs: number;
}

/** Limits that quality leads have overruled for parts of lots. */
export async function listOverruled(tx: Tx, lotIds: readonly string[]): Promise<OverruledRow[]> {
  return tx.query<OverruledRow>(
    `select d.lot_id as "lotId", d.account_id as "accountId", d.limit_code as code, ${ms('d.limit_ends_at')} as "endsAtMs", d.reason,
            ${ms('d.decided_at')} as "decidedAtMs"
       from shelf_life_decision d
      where d.group_id = $1::uuid and d.lot_id = any($2::uuid[]) and d.kind = 'lift-hold'
      order by d.decided_at, d.decision_id`,
    [tx.groupId, lotIds],
  );
}

export interface PartDateRow {
  readonly accountId: string;
  readonly useByAtMs: number;
}

/** Use-by in force of parts of one lot, where it is earlier than the lot's. */
export async function listPartDates(tx: Tx, lotId: string): Promise<PartDateRow[]> {
  return tx.query<PartDateRow>(
    `select h.account_id as "accountId", ${ms('h.use_by_at')} as "useByAtMs"
       from hold h
      where h.group_id = $1::uuid and h.lot_id = $2::uuid and h.kind = 'use-by' and h.lifted_at is null`,
    [tx.groupId, lotId],
  );
}
