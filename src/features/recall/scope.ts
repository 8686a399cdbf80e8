/** SQL of what a case reaches: its lots, the way to each, and what happened to them against the hold. */
import type { Page } from '../../platform/http/paging.ts';
import type { Tx } from '../../platform/db/db.ts';
import { LOT_BRIEF, LOT_BRIEF_JOINS, type LotBriefRow } from './queries.ts';
import { MOMENTS } from './revisions.ts';

/** Lots that a site has or had, or that are on the road to it. */
export async function listScopeLots(
  tx: Tx,
  holdId: string,
  siteId: string | null,
  page: Page,
): Promise<(LotBriefRow & { revision: number })[]> {
  return tx.query<LotBriefRow & { revision: number }>(
    `with ${MOMENTS}, listed as materialized (
       select hr.lot_id, hr.reached_at, hr.fact_id
         from hold_reach hr
        where hr.group_id = $1::uuid and hr.hold_id = $2::uuid and ($4::uuid is null or hr.lot_id > $4::uuid)
          and ($3::uuid is null or exists (
            select from balance b join account a on a.group_id = b.group_id and a.account_id = b.account_id
             where b.group_id = $1::uuid and b.lot_id = hr.lot_id and coalesce(a.to_site_id, a.site_id) = $3::uuid
               and (a.kind = 'place' or (b.quantity <> 0 and a.kind not in ('supplier', 'produced')))))
        order by hr.lot_id
        limit $5::int
     )
     select m.revision, ${LOT_BRIEF}
       from listed li
       join moment m on m.reached_at = li.reached_at and m.fact_id is not distinct from li.fact_id
       join lot l on l.group_id = $1::uuid and l.lot_id = li.lot_id
       ${LOT_BRIEF_JOINS}
      order by l.lot_id`,
    [tx.groupId, holdId, siteId, page.after?.[0] ?? null, page.limit + 1],
  );
}

export interface StepRow {
  /** whose way it is a step of */
  readonly toLotId: string;
  readonly lotId: string;
  readonly lotCode: string;
  readonly via: 'start' | 'batch' | 'packing-run' | 'conversion';
  readonly processId: string | null;
  readonly processCode: string | null;
}

/** The ways from starting points to these lots, each from its beginning. */
export async function listReasonSteps(tx: Tx, holdId: string, lotIds: readonly string[]): Promise<StepRow[]> {
  return tx.query<StepRow>(
    `with recursive up (to_lot_id, lot_id, cause_lot_id, process_id, steps) as (
       select hr.lot_id, hr.lot_id, hr.cause_lot_id, hr.process_id, 0
         from hold_reach hr
        where hr.group_id = $1::uuid and hr.hold_id = $2::uuid and hr.lot_id = any($3::uuid[])
       union all
       select u.to_lot_id, hr.lot_id, hr.cause_lot_id, hr.process_id, u.steps + 1
         from up u
        -- one look-up a step, however many lots the hold reaches
        cross join lateral (select one.lot_id, one.cause_lot_id, one.process_id from hold_reach one
              where one.group_id = $1::uuid and one.hold_id = $2::uuid and one.lot_id = u.cause_lot_id limit 1) hr
     )
     select u.to_lot_id as "toLotId", u.lot_id as "lotId", l.code as "lotCode",
            case when u.cause_lot_id is null then 'start' when pr.packing_run_id is not null then 'packing-run'
                 when cv.conversion_id is not null then 'conversion' else 'batch' end as via,
            u.process_id as "processId", coalesce(b.code, pb.code, cv.kind) as "processCode"
       from up u
       join lot l on l.group_id = $1::uuid and l.lot_id = u.lot_id
       left join batch b on b.group_id = $1::uuid and b.batch_id = u.process_id
       left join packing_run pr on pr.group_id = $1::uuid and pr.packing_run_id = u.process_id
       left join batch pb on pb.group_id = $1::uuid and pb.batch_id = pr.batch_id
       left join conversion cv on cv.group_id = $1::uuid and cv.conversion_id = u.process_id
      order by u.to_lot_id, u.steps desc`,
    [tx.groupId, holdId, lotIds],
  );
}

export interface ExceptionRow {
  readonly seq: number;
  readonly entryId: string;
  readonly factId: string;
  readonly kind: 'use' | 'departure' | 'batch-input' | 'packing' | 'conversion';
  readonly lotId: string;
  readonly lotCode: string;
  readonly siteId: string;
  readonly siteName: string;
  readonly quantity: number;
  readonly unit: string;
  readonly occurredAt: Date;
  readonly recordedAt: Date;
  readonly actorId: string;
  readonly reachedAt: Date;
}

/**
 * What happened at or after the moment at which a lot came under the hold, as far as it was not undone, until the hold was lifted.
 * @param openedSeq the last entry before the opening: clocks may tie, numbers do not
 */
export async function listExceptions(tx: Tx, holdId: string, openedSeq: number, page: Page): Promise<ExceptionRow[]> {
  return tx.query<ExceptionRow>(
    `with found as (
       select e.seq, hr.lot_id, hr.reached_at, sum(p.quantity)::int8 as quantity,
              min(case when ta.kind = 'served' then 'use' when e.kind = 'dispatch' then 'departure' else e.kind end) as kind
         from hold h
         join hold_reach hr on hr.group_id = h.group_id and hr.hold_id = h.hold_id
         join posting p on p.group_id = $1::uuid and p.lot_id = hr.lot_id and p.occurred_at >= hr.reached_at
         join entry e on e.group_id = $1::uuid and e.seq = p.seq
         join account ta on ta.group_id = $1::uuid and ta.account_id = p.to_account_id
         left join dispatch d on d.group_id = $1::uuid and d.dispatch_id = e.dispatch_id
        where h.group_id = $1::uuid and h.hold_id = $2::uuid and h.kind <> 'drill' and e.seq > $3::int8
          and (h.lifted_at is null or p.occurred_at < h.lifted_at)
          and (ta.kind = 'served'
            or (ta.kind = 'consumed' and e.kind in ('batch-input', 'packing', 'conversion'))
            or (ta.kind = 'transit' and e.kind = 'dispatch' and d.purpose = 'delivery'))
          and e.reverses_entry_id is null
          and not exists (select from entry r where r.group_id = e.group_id and r.reverses_entry_id = e.entry_id)
          and ($4::int8 is null or (e.seq, hr.lot_id) > ($4::int8, $5::uuid))
        group by e.seq, hr.lot_id, hr.reached_at
        order by e.seq, hr.lot_id
        limit $6::int
     )
     select f.seq, e.entry_id as "entryId", e.fact_id as "factId", f.kind, f.lot_id as "lotId", l.code as "lotCode",
            e.site_id as "siteId", si.name as "siteName", f.quantity, l.unit, e.occurred_at as "occurredAt",
            e.recorded_at as "recordedAt", e.actor_id as "actorId", f.reached_at as "reachedAt"
       from found f
       join entry e on e.group_id = $1::uuid and e.seq = f.seq
       join lot l on l.group_id = $1::uuid and l.lot_id = f.lot_id
       join site si on si.group_id = $1::uuid and si.site_id = e.site_id
      order by f.seq, f.lot_id`,
    [tx.groupId, holdId, openedSeq, page.after?.[0] ?? null, page.after?.[1] ?? null, page.limit + 1],
  );
}
