/** SQL of holds. A hold is a reason; hold_reach says which lots it has reached. */
import type { SiteScope } from '../../platform/http/contract.ts';
import type { Tx } from '../../platform/db/db.ts';
import { outbox } from '../../platform/jobs.ts';
import { passesOn } from './edges-store.ts';

export interface ReachingHold {
  readonly holdId: string;
  readonly kind: string;
  /** the lot that is reached */
  readonly lotId: string;
  readonly rootLotId: string;
  readonly siteId: string | null;
  readonly accountId: string | null;
  /** kind `use-by`: the date in force of the part in that account */
  readonly useByAtMs: number | null;
  readonly placedAt: Date;
  readonly liftedAt: Date | null;
}

/** Holds that reach these lots and are open, or were still open at `sinceMs`. Those of a drill bind nothing and are not among them. */
export async function findHoldsReaching(tx: Tx, lotIds: readonly string[], sinceMs: number): Promise<ReachingHold[]> {
  return tx.query<ReachingHold>(
    `select h.hold_id as "holdId", h.kind, hr.lot_id as "lotId", h.lot_id as "rootLotId", h.site_id as "siteId",
            h.account_id as "accountId", (extract(epoch from h.use_by_at) * 1000)::int8 as "useByAtMs", h.placed_at as "placedAt",
            h.lifted_at as "liftedAt"
       from hold_reach hr
       join hold h on h.group_id = hr.group_id and h.hold_id = hr.hold_id
      where hr.group_id = $1::uuid and hr.lot_id = any($2::uuid[]) and h.kind <> 'drill'
        and (h.lifted_at is null or h.lifted_at > to_timestamp($3::float8 / 1000))
      order by h.placed_at, h.hold_id`,
    [tx.groupId, lotIds, sinceMs],
  );
}

/** What was rejected for rework may go into a batch that makes it safe: there, that hold stands in nobody's way. */
export const holdsAgainstInput = (holds: readonly ReachingHold[], killStep: boolean): ReachingHold[] =>
  killStep ? holds.filter((hold) => hold.kind !== 'for-rework') : [...holds];

/** Holds as answers name them. A date that a part has of its own is told as a date. */
export const holdBriefs = (holds: readonly ReachingHold[]): { holdId: string; kind: string; rootLotId: string }[] =>
  holds
    .filter((hold) => hold.kind !== 'use-by' && hold.liftedAt === null)
    .map(({ holdId, kind, rootLotId }) => ({ holdId, kind, rootLotId }));

export interface HoldDraft {
  readonly holdId: string;
  readonly kind: string;
  readonly lotId: string;
  readonly siteId: string | null;
  readonly accountId: string | null;
  readonly propagates: boolean;
  readonly note: string | null;
  /** it does not reach what was made of the lot in a batch with a kill step up to now; what goes in later it does */
  readonly stopsAtHeat?: boolean;
}

/** `deputyId`: the appointment by which a person places them; null for holds that the rules place. */
export async function insertHolds(
  tx: Tx,
  holds: readonly HoldDraft[],
  actorId: string,
  nowMs: number,
  deputyId: string | null = null,
): Promise<void> {
  if (holds.length === 0) return;
  await tx.query(
    `insert into hold (group_id, hold_id, kind, lot_id, site_id, account_id, propagates, note, placed_at, placed_by,
            placed_deputy_id)
     select $1::uuid, r."holdId", r.kind, r."lotId", r."siteId", r."accountId", r.propagates, r.note,
            to_timestamp($4::float8 / 1000), $3::uuid, $5::uuid
       from jsonb_to_recordset($2::jsonb) as r("holdId" uuid, kind text, "lotId" uuid, "siteId" uuid, "accountId" uuid,
            propagates boolean, note text)`,
    [tx.groupId, JSON.stringify(holds), actorId, nowMs, deputyId],
  );
  await tx.query(
    `with recursive reach (lot_id, hold_id, kind, cause_lot_id, propagates) as (
       select r."lotId", r."holdId", case when r."stopsAtHeat" then 'for-rework' else r.kind end, null::uuid, r.propagates
         from jsonb_to_recordset($2::jsonb) as r("lotId" uuid, "holdId" uuid, kind text, propagates boolean, "stopsAtHeat" boolean)
       union
       select le.child_lot_id, r.hold_id, r.kind, le.parent_lot_id, r.propagates
         from reach r
         join lot_edge le on le.group_id = $1::uuid and le.parent_lot_id = r.lot_id
        where r.propagates and ${passesOn('r.kind', 'le.process_id')}
     )
     insert into hold_reach (group_id, hold_id, lot_id, cause_lot_id, reached_at)
     select distinct on (r.hold_id, r.lot_id) $1::uuid, r.hold_id, r.lot_id, r.cause_lot_id, to_timestamp($3::float8 / 1000)
       from reach r
      order by r.hold_id, r.lot_id, r.cause_lot_id nulls first
     on conflict (group_id, hold_id, lot_id) do nothing`,
    [tx.groupId, JSON.stringify(holds), nowMs],
  );
  await outbox(tx, 'holds-placed', { holdIds: holds.map((hold) => hold.holdId) }, nowMs);
}

export async function findHoldIds(tx: Tx, holdIds: readonly string[]): Promise<Set<string>> {
  const rows = await tx.query<{ holdId: string }>(
    `select h.hold_id as "holdId" from hold h where h.group_id = $1::uuid and h.hold_id = any($2::uuid[])`,
    [tx.groupId, holdIds],
  );
  return new Set(rows.map((row) => row.holdId));
}

/** Holds that follow from facts have ids that follow from them as well: one that was placed before, lifted or not, stays as it is. */
export async function insertFollowingHolds(
  tx: Tx,
  holds: readonly HoldDraft[],
  actorId: string,
  nowMs: number,
): Promise<void> {
  if (holds.length === 0) return;
  const known = await findHoldIds(
    tx,
    holds.map((hold) => hold.holdId),
  );
  const placed = holds.filter((hold) => !known.has(hold.holdId));
  await insertHolds(tx, placed, actorId, nowMs);
}

export async function liftHolds(
  tx: Tx,
  holdIds: readonly string[],
  actorId: string,
  note: string | null,
  nowMs: number,
  deputyId: string | null = null,
): Promise<void> {
  const lifted = await tx.query<{ holdId: string }>(
    `update hold h set lifted_at = to_timestamp($5::float8 / 1000), lifted_by = $3::uuid, lift_note = $4::text,
            lifted_deputy_id = $6::uuid
      where h.group_id = $1::uuid and h.hold_id = any($2::uuid[]) and h.lifted_at is null
     returning h.hold_id as "holdId"`,
    [tx.groupId, holdIds, actorId, note, nowMs, deputyId],
  );
  if (lifted.length > 0) await outbox(tx, 'holds-lifted', { holdIds: lifted.map((hold) => hold.holdId) }, nowMs);
}

export interface HoldRow {
  readonly holdId: string;
  readonly kind: string;
  readonly lotId: string;
  readonly lotCode: string;
  readonly siteId: string | null;
  readonly accountId: string | null;
  readonly propagates: boolean;
  readonly note: string | null;
  readonly placedAt: Date;
  readonly placedBy: string;
  readonly placedDeputyId: string | null;
  readonly liftedAt: Date | null;
  readonly liftedBy: string | null;
  readonly liftedDeputyId: string | null;
  readonly liftNote: string | null;
  readonly useByAt: Date | null;
  readonly ruling: string | null;
  readonly reached: number;
}

const COLUMNS = `h.hold_id as "holdId", h.kind, h.lot_id as "lotId", l.code as "lotCode", h.site_id as "siteId",
  h.account_id as "accountId", h.propagates, h.note, h.placed_at as "placedAt", h.placed_by as "placedBy",
  h.lifted_at as "liftedAt", h.lifted_by as "liftedBy", h.lift_note as "liftNote",
  h.placed_deputy_id as "placedDeputyId", h.lifted_deputy_id as "liftedDeputyId",
  h.use_by_at as "useByAt", h.ruling,
  (select count(*) from hold_reach hr where hr.group_id = h.group_id and hr.hold_id = h.hold_id) as reached`;

/** A hold is visible where any lot that it reaches is. */
const VISIBLE = `($3::boolean or exists (
  select from hold_reach hr
    join lot rl on rl.group_id = hr.group_id and rl.lot_id = hr.lot_id
   where hr.group_id = h.group_id and hr.hold_id = h.hold_id
     and (rl.site_id = any($4::uuid[]) or exists (
       select from balance b join account a on a.group_id = b.group_id and a.account_id = b.account_id
        where b.group_id = hr.group_id and b.lot_id = hr.lot_id
          and (a.site_id = any($4::uuid[]) or a.to_site_id = any($4::uuid[]))))))`;

export async function findHold(tx: Tx, scope: SiteScope, holdId: string): Promise<HoldRow | null> {
  const rows = await tx.query<HoldRow>(
    `select ${COLUMNS} from hold h join lot l on l.group_id = h.group_id and l.lot_id = h.lot_id
      where h.group_id = $1::uuid and h.hold_id = $2::uuid and ${VISIBLE}`,
    [tx.groupId, holdId, scope.all, scope.siteIds],
  );
  return rows[0] ?? null;
}

/** Dates of parts are told with the lot, the stock and the relabels, not here. */
export async function listHolds(
  tx: Tx,
  scope: SiteScope,
  filter: { lotId: string | null; open: boolean | null },
  page: { limit: number; after: readonly string[] | null },
): Promise<HoldRow[]> {
  return tx.query<HoldRow>(
    `select ${COLUMNS} from hold h join lot l on l.group_id = h.group_id and l.lot_id = h.lot_id
      where h.group_id = $1::uuid and h.kind <> 'use-by' and ${VISIBLE}
        and ($2::uuid is null or exists (
          select from hold_reach fr where fr.group_id = h.group_id and fr.hold_id = h.hold_id and fr.lot_id = $2::uuid))
        and ($5::boolean is null or (h.lifted_at is null) = $5::boolean)
        and ($6::uuid is null or h.hold_id > $6::uuid)
      order by h.hold_id
      limit $7::int`,
    [tx.groupId, filter.lotId, scope.all, scope.siteIds, filter.open, page.after?.[0] ?? null, page.limit + 1],
  );
}
