/** SQL on month_close and month_reopening. */
import type { Tx } from '../../../platform/db/db.ts';
import type { Page } from '../../../platform/http/paging.ts';
import type { MonthCheckAnswer } from './shapes.ts';

export interface ActiveClose {
  readonly closeId: string;
  /** such as 2026-10 */
  readonly month: string;
  readonly cutSeq: number;
  readonly cutMoneyNo: number;
  /** of the last fact of the cut */
  readonly cutRecordedAtMs: number;
}

/** The closes that count at a cut: known by then and not reopened by then; the earliest month first. They are months without a gap. */
export async function listActiveCloses(tx: Tx, cut: { readonly moneyNo: number }): Promise<ActiveClose[]> {
  return tx.query<ActiveClose>(
    `select mc.close_id as "closeId", to_char(mc.month, 'YYYY-MM') as month, mc.cut_seq as "cutSeq", mc.cut_money_no as "cutMoneyNo",
            (extract(epoch from mc.cut_recorded_at) * 1000)::int8 as "cutRecordedAtMs"
       from month_close mc
      where mc.group_id = $1::uuid and mc.money_no <= $2::int8
        and not exists (select from month_reopening r
                         where r.group_id = mc.group_id and r.close_id = mc.close_id and r.money_no <= $2::int8)
      order by mc.month`,
    [tx.groupId, cut.moneyNo],
  );
}

export interface CloseRow extends ActiveClose {
  readonly version: number;
  readonly moneyNo: number;
  readonly state: 'making' | 'ready' | 'failed';
  readonly closedBy: string;
  readonly closedAt: Date;
  readonly note: string | null;
  readonly checks: readonly MonthCheckAnswer[];
  readonly accepted: readonly { readonly check: string; readonly reason: string }[];
  readonly previousCloseId: string | null;
  readonly previousHash: Buffer | null;
  readonly reportHash: Buffer | null;
  readonly signatureHash: Buffer | null;
  readonly stepsDone: readonly string[];
  readonly failure: string | null;
}

const COLUMNS = `mc.close_id as "closeId", to_char(mc.month, 'YYYY-MM') as month, mc.version, mc.cut_seq as "cutSeq",
  mc.cut_money_no as "cutMoneyNo", (extract(epoch from mc.cut_recorded_at) * 1000)::int8 as "cutRecordedAtMs", mc.money_no as "moneyNo",
  mc.state, mc.closed_by as "closedBy", mc.closed_at as "closedAt", mc.note, mc.checks, mc.accepted,
  mc.previous_close_id as "previousCloseId", prev.signature_hash as "previousHash", mc.report_hash as "reportHash",
  mc.signature_hash as "signatureHash", mc.steps_done as "stepsDone", mc.failure`;
const FROM = `month_close mc left join month_close prev on prev.group_id = mc.group_id and prev.close_id = mc.previous_close_id`;

export async function findClose(tx: Tx, closeId: string): Promise<CloseRow | null> {
  const rows = await tx.query<CloseRow>(
    `select ${COLUMNS} from ${FROM} where mc.group_id = $1::uuid and mc.close_id = $2::uuid`,
    [tx.groupId, closeId],
  );
  return rows[0] ?? null;
}

/** The last one first, one more than the page holds. The cursor is the number. */
export async function listCloses(tx: Tx, page: Page): Promise<CloseRow[]> {
  return tx.query<CloseRow>(
    `select ${COLUMNS} from ${FROM}
      where mc.group_id = $1::uuid and ($2::int8 is null or mc.money_no < $2::int8)
      order by mc.money_no desc limit $3::int`,
    [tx.groupId, page.after?.[0] ?? null, page.limit + 1],
  );
}

/** The oldest one whose files are not all made. */
export async function findUnfinishedClose(tx: Tx): Promise<CloseRow | null> {
  const rows = await tx.query<CloseRow>(
    `select ${COLUMNS} from ${FROM} where mc.group_id = $1::uuid and mc.state <> 'ready' order by mc.money_no limit 1`,
    [tx.groupId],
  );
  return rows[0] ?? null;
}

export interface CloseHistory {
  readonly firstEverClosed: string | null;
  /** closes of the month so far */
  readonly versions: number;
  /** by its number, reopened or not */
  readonly lastCloseId: string | null;
}

export async function findHistory(tx: Tx, month: string): Promise<CloseHistory> {
  const rows = await tx.query<CloseHistory>(
    `select to_char(min(mc.month), 'YYYY-MM') as "firstEverClosed",
            (count(*) filter (where mc.month = ($2::text || '-01')::date))::int as versions,
            (array_agg(mc.close_id order by mc.money_no desc))[1] as "lastCloseId"
       from month_close mc where mc.group_id = $1::uuid`,
    [tx.groupId, month],
  );
  return rows[0] ?? { firstEverClosed: null, versions: 0, lastCloseId: null };
}

export interface NewClose {
  readonly closeId: string;
  readonly month: string;
  readonly version: number;
  readonly cut: { readonly seq: number; readonly moneyNo: number; readonly recordedAtMs: number };
  readonly closedBy: string;
  readonly closedAtMs: number;
  readonly note: string | null;
  readonly checks: readonly MonthCheckAnswer[];
  readonly accepted: readonly { readonly check: string; readonly reason: string }[];
  readonly previousCloseId: string | null;
}

export async function insertClose(tx: Tx, close: NewClose): Promise<void> {
  await tx.query(
    `insert into month_close (group_id, close_id, month, version, cut_seq, cut_money_no, cut_recorded_at, money_no, closed_by, closed_at,
            note, checks, accepted, previous_close_id)
     values ($1::uuid, $2::uuid, ($3::text || '-01')::date, $4::int, $5::int8, $6::int8, to_timestamp($7::float8 / 1000), $6::int8,
             $8::uuid, to_timestamp($9::float8 / 1000), $10::text, $11::jsonb, $12::jsonb, $13::uuid)`,
    [
      tx.groupId,
      close.closeId,
      close.month,
      close.version,
      close.cut.seq,
      close.cut.moneyNo,
      close.cut.recordedAtMs,
      close.closedBy,
      close.closedAtMs,
      close.note,
      JSON.stringify(close.checks),
      JSON.stringify(close.accepted),
      close.previousCloseId,
    ],
  );
}

/** What a step made, kept together with that it is done. False when it was done already. */
export async function finishStep(
  tx: Tx,
  closeId: string,
  step: string,
  made: { readonly reportHash?: Buffer; readonly signatureHash?: Buffer; readonly last: boolean },
): Promise<boolean> {
  const rows = await tx.query<{ closeId: string }>(
    `update month_close mc
        set steps_done = mc.steps_done || $3::text, report_hash = coalesce($4::bytea, mc.report_hash),
            signature_hash = coalesce($5::bytea, mc.signature_hash), state = case when $6::boolean then 'ready' else 'making' end,
            failure = null
      where mc.group_id = $1::uuid and mc.close_id = $2::uuid and $3::text <> all (mc.steps_done)
     returning mc.close_id as "closeId"`,
    [tx.groupId, closeId, step, made.reportHash ?? null, made.signatureHash ?? null, made.last],
  );
  return rows.length > 0;
}

export async function setFailed(tx: Tx, closeId: string, failure: string): Promise<void> {
  await tx.query(
    `update month_close mc set state = 'failed', failure = $3::text
      where mc.group_id = $1::uuid and mc.close_id = $2::uuid and mc.state <> 'ready'`,
    [tx.groupId, closeId, failure],
  );
}

export interface ReopeningRow {
  readonly reopeningId: string;
  readonly closeId: string;
  readonly month: string;
  readonly reason: string;
  readonly askedBy: string;
  readonly askedAt: Date;
  readonly confirmedBy: string | null;
  readonly confirmedAt: Date | null;
}

const REOPENING = `r.reopening_id as "reopeningId", r.close_id as "closeId", to_char(mc.month, 'YYYY-MM') as month, r.reason,
  r.asked_by as "askedBy", r.asked_at as "askedAt", r.confirmed_by as "confirmedBy", r.confirmed_at as "confirmedAt"`;

export async function findReopening(tx: Tx, reopeningId: string): Promise<ReopeningRow | null> {
  const rows = await tx.query<ReopeningRow>(
    `select ${REOPENING} from month_reopening r
       join month_close mc on mc.group_id = r.group_id and mc.close_id = r.close_id
      where r.group_id = $1::uuid and r.reopening_id = $2::uuid`,
    [tx.groupId, reopeningId],
  );
  return rows[0] ?? null;
}

/** Of each close the one that was confirmed, or the last one asked for. */
export async function findReopenings(tx: Tx, closeIds: readonly string[]): Promise<Map<string, ReopeningRow>> {
  const rows = await tx.query<ReopeningRow>(
    `select distinct on (r.close_id) ${REOPENING} from month_reopening r
       join month_close mc on mc.group_id = r.group_id and mc.close_id = r.close_id
      where r.group_id = $1::uuid and r.close_id = any($2::uuid[])
      order by r.close_id, r.money_no nulls last, r.asked_at desc, r.reopening_id`,
    [tx.groupId, closeIds],
  );
  return new Map(rows.map((row) => [row.closeId, row]));
}

export async function insertReopening(
  tx: Tx,
  row: Pick<ReopeningRow, 'reopeningId' | 'closeId' | 'reason' | 'askedBy'>,
  nowMs: number,
): Promise<void> {
  await tx.query(
    `insert into month_reopening (group_id, reopening_id, close_id, reason, asked_by, asked_at)
     values ($1::uuid, $2::uuid, $3::uuid, $4::text, $5::uuid, to_timestamp($6::float8 / 1000))`,
    [tx.groupId, row.reopeningId, row.closeId, row.reason, row.askedBy, nowMs],
  );
}

export async function confirmReopening(
  tx: Tx,
  reopeningId: string,
  confirmed: { readonly by: string; readonly moneyNo: number },
  nowMs: number,
): Promise<void> {
  await tx.query(
    `update month_reopening r set confirmed_by = $3::uuid, confirmed_at = to_timestamp($4::float8 / 1000), money_no = $5::int8
      where r.group_id = $1::uuid and r.reopening_id = $2::uuid`,
    [tx.groupId, reopeningId, confirmed.by, nowMs, confirmed.moneyNo],
  );
}
