/** SQL: what is committed and has no number yet, and what has to be looked up to tell of it. */
import type { Tx } from '../../../platform/db/db.ts';

export interface PendingEntry {
  readonly seq: number;
  readonly entryId: string;
  readonly kind: string;
  readonly recordedAtMs: number;
  readonly occurredAtMs: number;
  readonly siteId: string;
  readonly batchId: string | null;
  readonly packingRunId: string | null;
  readonly dispatchId: string | null;
  readonly dispatchCode: string | null;
  readonly fromSiteId: string | null;
  readonly toSiteId: string | null;
  readonly countId: string | null;
  readonly scanId: string | null;
  readonly reversesEntryId: string | null;
  readonly lotIds: readonly string[] | null;
}

/** Entries commit in the order of their seq: the group's head is locked from the number to the commit. */
export async function listPendingEntries(tx: Tx, afterSeq: number, limit: number): Promise<PendingEntry[]> {
  return tx.query<PendingEntry>(
    `select e.seq, e.entry_id as "entryId", e.kind, (extract(epoch from e.recorded_at) * 1000)::float8 as "recordedAtMs",
            (extract(epoch from e.occurred_at) * 1000)::float8 as "occurredAtMs", e.site_id as "siteId", e.batch_id as "batchId",
            e.packing_run_id as "packingRunId", e.dispatch_id as "dispatchId", d.code as "dispatchCode",
            d.from_site_id as "fromSiteId", d.to_site_id as "toSiteId", e.count_id as "countId", e.scan_id as "scanId",
            e.reverses_entry_id as "reversesEntryId",
            (select array_agg(distinct p.lot_id) from posting p where p.group_id = e.group_id and p.seq = e.seq) as "lotIds"
       from entry e
       left join dispatch d on d.group_id = e.group_id and d.dispatch_id = e.dispatch_id
      where e.group_id = $1::uuid and e.seq > $2::int8
      order by e.seq
      limit $3::int`,
    [tx.groupId, afterSeq, limit],
  );
}

export interface PendingRow {
  readonly outboxId: number;
  readonly topic: string;
  readonly payload: Readonly<Record<string, unknown>>;
  readonly createdAtMs: number;
}

/** Rows of the outbox commit in any order: what has no number yet is found by that, not by how far the ids have come. */
export async function listPendingRows(tx: Tx, limit: number): Promise<PendingRow[]> {
  return tx.query<PendingRow>(
    `select o.outbox_id as "outboxId", o.topic, o.payload, (extract(epoch from o.created_at) * 1000)::float8 as "createdAtMs"
       from outbox o
      where o.group_id = $1::uuid and o.numbered_at is null
      order by o.outbox_id
      limit $2::int`,
    [tx.groupId, limit],
  );
}

export async function markNumbered(tx: Tx, outboxIds: readonly number[], nowMs: number): Promise<void> {
  await tx.query(
    `update outbox o set numbered_at = to_timestamp($3::float8 / 1000)
      where o.group_id = $1::uuid and o.outbox_id = any($2::int8[])`,
    [tx.groupId, outboxIds, nowMs],
  );
}

export interface LotAbout {
  readonly id: string;
  readonly lotCode: string;
  /** where it was born, and where some of it is or is on its way to */
  readonly siteIds: readonly string[];
}

export async function listLotsAbout(tx: Tx, lotIds: readonly string[]): Promise<LotAbout[]> {
  return tx.query<LotAbout>(
    `select l.lot_id as id, l.code as "lotCode",
            array(select l.site_id union
                  select s.site_id
                    from balance b
                    join account a on a.group_id = b.group_id and a.account_id = b.account_id and a.kind in ('place', 'transit')
                    cross join lateral (values (a.site_id), (a.to_site_id)) s (site_id)
                   where b.group_id = l.group_id and b.lot_id = l.lot_id and b.quantity > 0 and s.site_id is not null)
              as "siteIds"
       from lot l
      where l.group_id = $1::uuid and l.lot_id = any($2::uuid[])`,
    [tx.groupId, lotIds],
  );
}

export interface HoldAbout {
  readonly id: string;
  readonly holdKind: string;
  readonly propagates: boolean;
  readonly lotId: string;
  readonly lotCode: string;
  /** its own site where it has one; otherwise where the lots that it reaches are */
  readonly siteIds: readonly string[];
}

export async function listHoldsAbout(tx: Tx, holdIds: readonly string[]): Promise<HoldAbout[]> {
  return tx.query<HoldAbout>(
    `select h.hold_id as id, h.kind as "holdKind", h.propagates, h.lot_id as "lotId", l.code as "lotCode",
            case when h.site_id is not null or own.account_id is not null
              then array_remove(array[coalesce(h.site_id, own.site_id), own.to_site_id], null)
              else array(select l.site_id union
                         select s.site_id
                           from hold_reach hr
                           join balance b on b.group_id = hr.group_id and b.lot_id = hr.lot_id and b.quantity > 0
                           join account a on a.group_id = b.group_id and a.account_id = b.account_id and a.kind in ('place', 'transit')
                           cross join lateral (values (a.site_id), (a.to_site_id)) s (site_id)
                          where hr.group_id = h.group_id and hr.hold_id = h.hold_id and s.site_id is not null)
            end as "siteIds"
       from hold h
       join lot l on l.group_id = h.group_id and l.lot_id = h.lot_id
       left join account own on own.group_id = h.group_id and own.account_id = h.account_id
      where h.group_id = $1::uuid and h.hold_id = any($2::uuid[])`,
    [tx.groupId, holdIds],
  );
}

export interface RecallAbout {
  readonly id: string;
  readonly recallCode: string;
  readonly drill: boolean;
  readonly holdId: string;
}

export async function listRecallsAbout(tx: Tx, recallIds: readonly string[]): Promise<RecallAbout[]> {
  return tx.query<RecallAbout>(
    `select r.recall_id as id, r.code as "recallCode", r.drill, r.hold_id as "holdId"
       from recall r
      where r.group_id = $1::uuid and r.recall_id = any($2::uuid[])`,
    [tx.groupId, recallIds],
  );
}

export interface SitesAbout {
  readonly id: string;
  readonly code: string | null;
  readonly siteIds: readonly string[];
}

/** Batches, dispatches, places, probes and recall notices, by their ids, which are of one kind each. */
export async function listSitesAbout(tx: Tx, ids: readonly string[]): Promise<SitesAbout[]> {
  return tx.query<SitesAbout>(
    `select b.batch_id as id, b.code, array[b.site_id] as "siteIds"
       from batch b where b.group_id = $1::uuid and b.batch_id = any($2::uuid[])
     union all
     select d.dispatch_id, d.code, array[d.from_site_id, d.to_site_id]
       from dispatch d where d.group_id = $1::uuid and d.dispatch_id = any($2::uuid[])
     union all
     select a.account_id, null, array_remove(array[a.site_id, a.to_site_id], null)
       from account a where a.group_id = $1::uuid and a.kind = 'place' and a.account_id = any($2::uuid[])
     union all
     select n.notice_id, null, array[n.site_id]
       from recall_notice n where n.group_id = $1::uuid and n.notice_id = any($2::uuid[])`,
    [tx.groupId, ids],
  );
}
