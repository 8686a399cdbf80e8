/**
 * SQL of revisions. They are not stored: what a hold reaches says of each lot when it came in and by which fact, and each such moment is a
 * revision. The first is the opening.
 */
import type { Tx } from '../../platform/db/db.ts';
import { LOT_BRIEF, LOT_BRIEF_JOINS, type LotBriefRow } from './queries.ts';

/** `moment (reached_at, fact_id, revision)` of a hold given as $2. */
export const MOMENTS = `moment as materialized (
  select m.reached_at, m.fact_id, m.lots, row_number() over (order by m.first_no)::int as revision
    from (select hr.reached_at, hr.fact_id, count(*)::int as lots, min(hr.reach_no) as first_no from hold_reach hr
           where hr.group_id = $1::uuid and hr.hold_id = $2::uuid group by hr.reached_at, hr.fact_id) m)`;

export async function countRevisions(tx: Tx, holdId: string): Promise<number> {
  const rows = await tx.query<{ count: number }>(`with ${MOMENTS} select count(*)::int as count from moment`, [
    tx.groupId,
    holdId,
  ]);
  return rows[0]?.count ?? 0;
}

export interface RevisionRow {
  readonly revision: number;
  readonly reachedAt: Date;
  readonly factId: string | null;
  readonly operation: string | null;
  readonly actorName: string | null;
  readonly addedLotCount: number;
}

export async function listRevisions(tx: Tx, holdId: string): Promise<RevisionRow[]> {
  return tx.query<RevisionRow>(
    `with ${MOMENTS}
     select m.revision, m.reached_at as "reachedAt", m.fact_id as "factId", f.operation, pe.name as "actorName",
            m.lots as "addedLotCount"
       from moment m
       left join fact f on f.group_id = $1::uuid and f.fact_id = m.fact_id
       left join person pe on pe.group_id = $1::uuid and pe.person_id = f.actor_id
      order by m.revision`,
    [tx.groupId, holdId],
  );
}

/** Up to `each` lots of every revision, in the order of their birth. */
export async function listRevisionLots(
  tx: Tx,
  holdId: string,
  each: number,
): Promise<(LotBriefRow & { revision: number })[]> {
  return tx.query<LotBriefRow & { revision: number }>(
    `with ${MOMENTS}, numbered as (
       select hr.lot_id, m.revision, row_number() over (partition by m.revision order by l.born_at, l.lot_id) as at
         from hold_reach hr
         join moment m on m.reached_at = hr.reached_at and m.fact_id is not distinct from hr.fact_id
         join lot l on l.group_id = $1::uuid and l.lot_id = hr.lot_id
        where hr.group_id = $1::uuid and hr.hold_id = $2::uuid
     )
     select n.revision, ${LOT_BRIEF}
       from numbered n
       join lot l on l.group_id = $1::uuid and l.lot_id = n.lot_id
       ${LOT_BRIEF_JOINS}
      where n.at <= $3::int
      order by n.revision, n.at`,
    [tx.groupId, holdId, each],
  );
}
