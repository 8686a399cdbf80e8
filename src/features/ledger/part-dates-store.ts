/** SQL of the use-by in force of parts: rows of kind `use-by` among the holds. */
import type { Tx } from '../../platform/db/db.ts';

/**
 * The date in force of a part as SQL: the earliest of its lot's and its own; 'infinity' when there is none.
 * @param part alias of a row with group_id, lot_id and account_id; `state` that of its lot_state
 */
export const partUseBy = (
  part = 'b',
  state = 's',
): string => `least(${state}.use_by_at, (select ud.use_by_at from hold ud
  where ud.group_id = ${part}.group_id and ud.lot_id = ${part}.lot_id and ud.account_id = ${part}.account_id
    and ud.kind = 'use-by' and ud.lifted_at is null))`;

/** The own dates of these lots in one place, for those that have one. */
export async function findOwnDates(tx: Tx, accountId: string, lotIds: readonly string[]): Promise<Map<string, number>> {
  const rows = await tx.query<{ lotId: string; useByAtMs: number }>(
    `select h.lot_id as "lotId", (extract(epoch from h.use_by_at) * 1000)::int8 as "useByAtMs"
       from hold h
      where h.group_id = $1::uuid and h.lot_id = any($3::uuid[]) and h.account_id = $2::uuid and h.kind = 'use-by'
        and h.lifted_at is null`,
    [tx.groupId, accountId, lotIds],
  );
  return new Map(rows.map((row) => [row.lotId, row.useByAtMs]));
}

export interface StandingDate {
  readonly holdId: string;
  readonly useByAtMs: number;
  readonly labelledAt: Date | null;
}

/** What moves the food holds this lock as well, so a date is either there for the move to take along or finds where it went. */
export async function lockPart(tx: Tx, lotId: string, accountId: string): Promise<void> {
  await tx.query(
    `select b.quantity from balance b
      where b.group_id = $1::uuid and b.lot_id = $2::uuid and b.account_id = $3::uuid
        for no key update`,
    [tx.groupId, lotId, accountId],
  );
}

export async function findPartForDate(
  tx: Tx,
  lotId: string,
  accountId: string,
): Promise<{ lotUseByAtMs: number | null; standing: StandingDate | null }> {
  const rows = await tx.query<{
    lotUseByAtMs: number | null;
    holdId: string | null;
    useByAtMs: number | null;
    labelledAt: Date | null;
  }>(
    `select case when s.use_by_at = 'infinity' then null else (extract(epoch from s.use_by_at) * 1000)::int8 end as "lotUseByAtMs",
            h.hold_id as "holdId", (extract(epoch from h.use_by_at) * 1000)::int8 as "useByAtMs", h.labelled_at as "labelledAt"
       from lot_state s
       left join hold h on h.group_id = s.group_id and h.lot_id = s.lot_id and h.account_id = $3::uuid and h.kind = 'use-by'
                       and h.lifted_at is null
      where s.group_id = $1::uuid and s.lot_id = $2::uuid`,
    [tx.groupId, lotId, accountId],
  );
  const row = rows[0];
  if (!row) throw new Error(`there is no lot ${lotId}`);
  const { holdId, useByAtMs, labelledAt } = row;
  const standing = holdId === null || useByAtMs === null ? null : { holdId, useByAtMs, labelledAt };
  return { lotUseByAtMs: row.lotUseByAtMs, standing };
}

export async function liftPartDate(
  tx: Tx,
  holdId: string,
  note: string,
  actorId: string,
  nowMs: number,
): Promise<void> {
  await tx.query(
    `update hold h set lifted_at = to_timestamp($5::float8 / 1000), lifted_by = $3::uuid, lift_note = $4::text
      where h.group_id = $1::uuid and h.hold_id = $2::uuid and h.kind = 'use-by' and h.lifted_at is null`,
    [tx.groupId, holdId, actorId, note, nowMs],
  );
}

export interface PartDateDraft {
  readonly holdId: string;
  readonly lotId: string;
  readonly accountId: string;
  readonly useByAtMs: number;
  readonly ruling: string;
  readonly reason: string;
  readonly resultId: string | null;
  readonly cameFromId: string | null;
  readonly labelledAtMs: number | null;
}

/** The part has none that stands. It reaches its own lot alone. */
export async function insertPartDates(
  tx: Tx,
  drafts: readonly PartDateDraft[],
  actorId: string,
  nowMs: number,
): Promise<void> {
  await tx.query(
    `with placed as (
       insert into hold (group_id, hold_id, kind, lot_id, account_id, propagates, note, placed_at, placed_by, use_by_at, ruling,
              result_id, came_from_id, labelled_at)
       select $1::uuid, r."holdId", 'use-by', r."lotId", r."accountId", false, r.reason, to_timestamp($4::float8 / 1000), $3::uuid,
              to_timestamp(r."useByAtMs" / 1000.0), r.ruling, r."resultId", r."cameFromId", to_timestamp(r."labelledAtMs" / 1000.0)
         from jsonb_to_recordset($2::jsonb) as r("holdId" uuid, "lotId" uuid, "accountId" uuid, "useByAtMs" numeric, ruling text,
              reason text, "resultId" uuid, "cameFromId" uuid, "labelledAtMs" numeric)
       returning hold_id, lot_id
     )
     insert into hold_reach (group_id, hold_id, lot_id, reached_at)
     select $1::uuid, p.hold_id, p.lot_id, to_timestamp($4::float8 / 1000) from placed p`,
    [tx.groupId, JSON.stringify(drafts), actorId, nowMs],
  );
}

type PartDateRow = Pick<PartDateDraft, 'useByAtMs' | 'ruling' | 'reason' | 'resultId'>;

export async function findPartDates(tx: Tx, holdIds: readonly string[]): Promise<Map<string, PartDateRow>> {
  if (holdIds.length === 0) return new Map();
  const rows = await tx.query<PartDateRow & { holdId: string }>(
    `select h.hold_id as "holdId", (extract(epoch from h.use_by_at) * 1000)::int8 as "useByAtMs", h.ruling, h.note as reason,
            h.result_id as "resultId"
       from hold h where h.group_id = $1::uuid and h.hold_id = any($2::uuid[]) and h.kind = 'use-by'`,
    [tx.groupId, holdIds],
  );
  return new Map(rows.map(({ holdId, ...row }) => [holdId, row]));
}

/** @param atMs since when everything in the part says the date on its label; null: not any more */
export async function setLabelled(tx: Tx, holdId: string, atMs: number | null): Promise<void> {
  await tx.query(
    `update hold h set labelled_at = to_timestamp($3::float8 / 1000)
      where h.group_id = $1::uuid and h.hold_id = $2::uuid and h.kind = 'use-by'`,
    [tx.groupId, holdId, atMs],
  );
}
