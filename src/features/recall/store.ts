/** SQL of a case's own rows: what is written at its opening and when starting points are added. One exported function per statement. */
import type { SaidStart } from '../../domain/recall/starts.ts';
import type { Tx } from '../../platform/db/db.ts';

export interface HeadRow {
  readonly lastSeq: number;
  readonly atMs: number;
}

/** The group's last entry, and the time of what is recorded now: never before what was recorded last. */
export async function readHead(tx: Tx, nowMs: number): Promise<HeadRow> {
  const rows = await tx.query<HeadRow>(
    `select h.last_seq as "lastSeq",
            ceil(extract(epoch from greatest(h.last_recorded_at, to_timestamp($2::float8 / 1000))) * 1000)::int8 as "atMs"
       from group_head h where h.group_id = $1::uuid`,
    [tx.groupId, nowMs],
  );
  const row = rows[0];
  if (!row) throw new Error('the group has no head row');
  return row;
}

/** The number of the next case; drills are counted by themselves. The gate has to be held exclusively. */
export async function nextCaseNo(tx: Tx, drill: boolean): Promise<number> {
  const rows = await tx.query<{ next: number }>(
    `select count(*)::int + 1 as next from recall r where r.group_id = $1::uuid and r.drill = $2::boolean`,
    [tx.groupId, drill],
  );
  return rows[0]?.next ?? 1;
}

export interface NewRecall {
  readonly recallId: string;
  readonly code: string;
  readonly drill: boolean;
  readonly title: string;
  readonly holdId: string;
  readonly openedAtMs: number;
  readonly openedSeq: number;
  readonly openedBy: string;
  readonly deputyId: string | null;
  readonly scopeMs: number;
  readonly drawnWith: string | null;
}

export async function insertRecall(tx: Tx, recall: NewRecall): Promise<void> {
  await tx.query(
    `insert into recall (group_id, recall_id, code, drill, title, hold_id, opened_at, opened_seq, opened_by, opened_deputy_id,
            scope_ms, drawn_with)
     values ($1::uuid, $2::uuid, $3::text, $4::boolean, $5::text, $6::uuid, to_timestamp($7::float8 / 1000), $8::int8, $9::uuid,
            $10::uuid, $11::int, $12::text)`,
    [
      tx.groupId,
      recall.recallId,
      recall.code,
      recall.drill,
      recall.title,
      recall.holdId,
      recall.openedAtMs,
      recall.openedSeq,
      recall.openedBy,
      recall.deputyId,
      recall.scopeMs,
      recall.drawnWith,
    ],
  );
}

export interface NewStart {
  readonly startId: string;
  readonly position: number;
  readonly said: SaidStart;
}

export async function insertStarts(
  tx: Tx,
  recallId: string,
  starts: readonly NewStart[],
  by: { readonly factId: string; readonly actorId: string; readonly atMs: number },
): Promise<void> {
  await tx.query(
    `insert into recall_start (group_id, recall_id, start_id, position, kind, said, fact_id, added_at, added_by)
     select $1::uuid, $2::uuid, r."startId", r.position, r.said ->> 'kind', r.said, $4::uuid, to_timestamp($5::float8 / 1000),
            $6::uuid
       from jsonb_to_recordset($3::jsonb) as r("startId" uuid, position int, said jsonb)`,
    [tx.groupId, recallId, JSON.stringify(starts), by.factId, by.atMs, by.actorId],
  );
}

/** Lots that a starting point names; those that it named before stay as they are. */
export async function insertStartLots(tx: Tx, startId: string, lotIds: readonly string[], atMs: number): Promise<void> {
  await tx.query(
    `insert into recall_start_lot (group_id, start_id, lot_id, matched_at)
     select $1::uuid, $2::uuid, u.lot_id, to_timestamp($4::float8 / 1000) from unnest($3::uuid[]) as u(lot_id)
     on conflict (group_id, start_id, lot_id) do nothing`,
    [tx.groupId, startId, lotIds, atMs],
  );
}

export async function insertStatement(
  tx: Tx,
  recallId: string,
  statement: { readonly statementId: string; readonly said: object; readonly actorId: string; readonly atMs: number },
): Promise<void> {
  await tx.query(
    `insert into recall_statement (group_id, statement_id, recall_id, said, said_at, said_by)
     values ($1::uuid, $2::uuid, $3::uuid, $4::jsonb, to_timestamp($5::float8 / 1000), $6::uuid)`,
    [tx.groupId, statement.statementId, recallId, JSON.stringify(statement.said), statement.atMs, statement.actorId],
  );
}

export interface OpenStartRow {
  readonly recallId: string;
  readonly code: string;
  readonly said: SaidStart;
  /** said when the case was opened, not later */
  readonly atOpening: boolean;
}

/** Starting points of the cases that are open and no drills. */
export async function listOpenStarts(tx: Tx): Promise<OpenStartRow[]> {
  return tx.query<OpenStartRow>(
    `select r.recall_id as "recallId", r.code, s.said, s.fact_id = r.recall_id as "atOpening"
       from recall r
       join recall_start s on s.group_id = r.group_id and s.recall_id = r.recall_id
      where r.group_id = $1::uuid and not r.drill
        and coalesce((select t.kind from recall_turn t where t.group_id = r.group_id and t.recall_id = r.recall_id
                       order by t.turn_no desc limit 1), 'reopened') = 'reopened'
      order by r.opened_at, r.recall_id, s.position`,
    [tx.groupId],
  );
}
