/** SQL of edges, and of what spreads along them: holds, earlier dates, allergens. */
import type { Tx } from '../../platform/db/db.ts';

export interface EdgeDraft {
  readonly parentLotId: string;
  readonly childLotId: string;
  readonly processId: string;
  readonly capsUseBy: boolean;
  /** the date in force of the part that went in, where it is earlier than its lot's */
  readonly partUseByAtMs?: number | null;
}

/** Edge drafts given as parameter 2. */
export const EDGE_ROWS = `jsonb_to_recordset($2::jsonb)
  as n("parentLotId" uuid, "childLotId" uuid, "processId" uuid, "capsUseBy" boolean, "partUseByAtMs" numeric)`;

/**
 * When something is recorded: never before what was recorded last. After the entries of the same transaction it is their time.
 * @param nowMs as SQL, the parameter that has the clock's milliseconds
 */
export const recordedAt = (nowMs: string): string =>
  `(select greatest(gh.last_recorded_at, to_timestamp(${nowMs}::float8 / 1000)) from group_head gh where gh.group_id = $1::uuid)`;

/**
 * A hold for rework ends where the food went into a batch with a kill step; every other hold goes on. Freezing, opening and the like are
 * no such batch, whatever they do to dates.
 * @param kind SQL of the hold's kind
 * @param processId SQL of the edge's process
 */
export const passesOn = (kind: string, processId: string): string =>
  `not (${kind} = 'for-rework' and exists (
         select from batch kb where kb.group_id = $1::uuid and kb.batch_id = ${processId} and kb.kill_step))`;

/**
 * Adds edges and copies every open propagating hold of a parent, with its cause, to every descendant. The fact of the transaction
 * stands beside both: it says why a recall grew.
 */
export async function addEdges(tx: Tx, edges: readonly EdgeDraft[], nowMs: number): Promise<void> {
  if (edges.length === 0) return;
  const json = JSON.stringify(edges);
  await tx.query(
    `insert into lot_edge (group_id, parent_lot_id, child_lot_id, process_id, caps_use_by, child_leads_on, recorded_at, fact_id)
     select $1::uuid, n."parentLotId", n."childLotId", n."processId", n."capsUseBy",
            exists (select from lot_edge x where x.group_id = $1::uuid and x.parent_lot_id = n."childLotId"),
            ${recordedAt('$3')}, $4::uuid
       from ${EDGE_ROWS}
     on conflict (group_id, parent_lot_id, child_lot_id, process_id) do nothing`,
    [tx.groupId, json, nowMs, tx.factId ?? null],
  );
  await sayLeadsOn(tx, [...new Set(edges.map((edge) => edge.parentLotId))]);
  await tx.query(
    `with recursive reach (lot_id, hold_id, kind, cause_lot_id, process_id) as (
       select n."childLotId", hr.hold_id, h.kind, n."parentLotId", n."processId"
         from ${EDGE_ROWS}
         join hold_reach hr on hr.group_id = $1::uuid and hr.lot_id = n."parentLotId"
         join hold h on h.group_id = hr.group_id and h.hold_id = hr.hold_id and h.propagates and h.lifted_at is null
        where ${passesOn('h.kind', 'n."processId"')}
       union
       select le.child_lot_id, r.hold_id, r.kind, le.parent_lot_id, le.process_id
         from reach r
         join lot_edge le on le.group_id = $1::uuid and le.parent_lot_id = r.lot_id
        where ${passesOn('r.kind', 'le.process_id')}
     )
     insert into hold_reach (group_id, hold_id, lot_id, cause_lot_id, process_id, fact_id, reached_at)
     select distinct on (r.hold_id, r.lot_id)
            $1::uuid, r.hold_id, r.lot_id, r.cause_lot_id, r.process_id, $4::uuid, ${recordedAt('$3')}
       from reach r
      order by r.hold_id, r.lot_id, r.cause_lot_id, r.process_id
     on conflict (group_id, hold_id, lot_id) do nothing`,
    [tx.groupId, json, nowMs, tx.factId ?? null],
  );
}

/**
 * These lots have children now; walks that reach them go on. In the order of the key, so that two who make something from the same lots
 * wait for each other instead of for ever.
 */
async function sayLeadsOn(tx: Tx, lotIds: readonly string[]): Promise<void> {
  await tx.query(
    `with known as materialized (
       select le.parent_lot_id, le.child_lot_id, le.process_id
         from lot_edge le
        where le.group_id = $1::uuid and le.child_lot_id = any($2::uuid[]) and not le.child_leads_on
        order by le.child_lot_id, le.parent_lot_id, le.process_id
          for update
     )
     update lot_edge le set child_leads_on = true
       from known k
      where le.group_id = $1::uuid and le.parent_lot_id = k.parent_lot_id and le.child_lot_id = k.child_lot_id
        and le.process_id = k.process_id`,
    [tx.groupId, lotIds],
  );
}

/**
 * Takes edges away that nothing supports any more, and keeps when they stood.
 * @param which SQL over `le`, with parameters from $3 on
 */
export async function removeEdges(tx: Tx, nowMs: number, which: string, values: readonly unknown[]): Promise<void> {
  await tx.query(
    `with gone as (
       delete from lot_edge le where le.group_id = $1::uuid and ${which}
       returning le.parent_lot_id, le.child_lot_id, le.process_id, le.recorded_at
     )
     insert into lot_edge_past (group_id, parent_lot_id, child_lot_id, process_id, recorded_at, removed_at)
     select $1::uuid, g.parent_lot_id, g.child_lot_id, g.process_id, g.recorded_at, ${recordedAt('$2')} from gone g`,
    [tx.groupId, nowMs, ...values],
  );
}

/** A late input tightens the use-by of what was made from it already, and of all that came of that. */
export async function spreadUseBy(tx: Tx, edges: readonly EdgeDraft[], actorId: string, nowMs: number): Promise<void> {
  await tx.query(
    `with recursive cap (lot_id, use_by_at, use_by_date, cause_lot_id) as (
       select n."childLotId", least(s.use_by_at, to_timestamp(n."partUseByAtMs" / 1000.0)),
              case when to_timestamp(n."partUseByAtMs" / 1000.0) < s.use_by_at then null else s.use_by_date end, n."parentLotId"
         from ${EDGE_ROWS}
         join lot_state s on s.group_id = $1::uuid and s.lot_id = n."parentLotId"
        where n."capsUseBy" and least(s.use_by_at, to_timestamp(n."partUseByAtMs" / 1000.0)) < 'infinity'
       union
       select le.child_lot_id, c.use_by_at, c.use_by_date, c.cause_lot_id
         from cap c
         join lot_edge le on le.group_id = $1::uuid and le.parent_lot_id = c.lot_id and le.caps_use_by
     ), earliest as (
       select distinct on (c.lot_id) c.lot_id, c.use_by_at, c.use_by_date, c.cause_lot_id
         from cap c order by c.lot_id, c.use_by_at, c.cause_lot_id
     ), tightened as (
       update lot_state s set use_by_at = e.use_by_at, use_by_date = e.use_by_date
         from earliest e
        where s.group_id = $1::uuid and s.lot_id = e.lot_id and e.use_by_at < s.use_by_at
       returning s.lot_id, s.use_by_at, s.use_by_date, e.cause_lot_id
     )
     insert into lot_change (group_id, lot_id, change_id, kind, detail, cause_lot_id, actor_id, recorded_at)
     select $1::uuid, t.lot_id, gen_random_uuid(), 'use-by-earlier',
            jsonb_build_object('useByAt', t.use_by_at, 'useByDate', t.use_by_date), t.cause_lot_id, $3::uuid,
            to_timestamp($4::float8 / 1000)
       from tightened t`,
    [tx.groupId, JSON.stringify(edges), actorId, nowMs],
  );
}

/** A late input's allergens reach what was made from it already; they only ever grow. */
export async function spreadAllergens(
  tx: Tx,
  edges: readonly EdgeDraft[],
  actorId: string,
  nowMs: number,
): Promise<void> {
  await tx.query(
    `with recursive reach (lot_id, cause_lot_id) as (
       select n."childLotId", n."parentLotId" from ${EDGE_ROWS}
       union
       select le.child_lot_id, r.cause_lot_id
         from reach r join lot_edge le on le.group_id = $1::uuid and le.parent_lot_id = r.lot_id
     ), added as (
       select r.lot_id, min(r.cause_lot_id::text)::uuid as cause_lot_id,
              array_agg(distinct a.code) filter (where a.code is not null and a.code <> all (s.allergens)) as allergens,
              array_agg(distinct m.code) filter (where m.code is not null and m.code <> all (s.may_contain)) as may_contain
         from reach r
         join lot_state s on s.group_id = $1::uuid and s.lot_id = r.lot_id
         join lot_state p on p.group_id = $1::uuid and p.lot_id = r.cause_lot_id
         left join lateral unnest(p.allergens) as a(code) on true
         left join lateral unnest(p.may_contain) as m(code) on true
        group by r.lot_id
     ), grown as (
       update lot_state s
          set allergens = s.allergens || coalesce(d.allergens, '{}'),
              may_contain = s.may_contain || coalesce(d.may_contain, '{}')
         from added d
        where s.group_id = $1::uuid and s.lot_id = d.lot_id and (d.allergens is not null or d.may_contain is not null)
       returning s.lot_id, d.allergens, d.may_contain, d.cause_lot_id
     )
     insert into lot_change (group_id, lot_id, change_id, kind, detail, cause_lot_id, actor_id, recorded_at)
     select $1::uuid, g.lot_id, gen_random_uuid(), 'allergens-added',
            jsonb_build_object('allergens', coalesce(g.allergens, '{}'), 'mayContain', coalesce(g.may_contain, '{}')),
            g.cause_lot_id, $3::uuid, to_timestamp($4::float8 / 1000)
       from grown g`,
    [tx.groupId, JSON.stringify(edges), actorId, nowMs],
  );
}

/** Which of these lots are ancestors of the lot, or the lot itself. */
export async function ancestorsAmong(tx: Tx, lotId: string, candidateIds: readonly string[]): Promise<Set<string>> {
  const rows = await tx.query<{ lotId: string }>(
    `with recursive up (lot_id) as (
       select $2::uuid
       union
       select le.parent_lot_id from up join lot_edge le on le.group_id = $1::uuid and le.child_lot_id = up.lot_id
     )
     select up.lot_id as "lotId" from up where up.lot_id = any($3::uuid[])`,
    [tx.groupId, lotId, candidateIds],
  );
  return new Set(rows.map((row) => row.lotId));
}

/** These lots and everything before them, each once, at most `limit`. */
export async function listWithAncestors(tx: Tx, lotIds: readonly string[], limit: number): Promise<string[]> {
  const rows = await tx.query<{ lotId: string }>(
    `with recursive up (lot_id) as (
       select unnest($2::uuid[])
       union
       select le.parent_lot_id from up join lot_edge le on le.group_id = $1::uuid and le.child_lot_id = up.lot_id
     )
     select up.lot_id as "lotId" from up limit $3::int`,
    [tx.groupId, lotIds, limit],
  );
  return rows.map((row) => row.lotId);
}

export async function listEdgesFrom(tx: Tx, lotId: string): Promise<EdgeDraft[]> {
  return tx.query<EdgeDraft>(
    `select le.parent_lot_id as "parentLotId", le.child_lot_id as "childLotId", le.process_id as "processId",
            le.caps_use_by as "capsUseBy"
       from lot_edge le where le.group_id = $1::uuid and le.parent_lot_id = $2::uuid`,
    [tx.groupId, lotId],
  );
}
