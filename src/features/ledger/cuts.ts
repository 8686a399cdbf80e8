/**
 * A cut through what is known: the last entry and the last money fact recorded by a moment. A report is a pure function of a cut, so it
 * can be made again for ever. Both numbers come from the group's head row, so no two transactions see different orders. Refusal:
 * `rule-broken`, for a moment ahead of now.
 */
import { Refused } from '../../domain/errors.ts';
import type { Tx } from '../../platform/db/db.ts';

export interface Cut {
  /** entries up to and with this one */
  readonly seq: number;
  /** money facts up to and with this one */
  readonly moneyNo: number;
  /** when the later of the two was recorded; 0 when there is neither */
  readonly recordedAtMs: number;
}

type MoneyFactKind = 'price' | 'cost-rate' | 'batch-completion' | 'month-close' | 'month-reopening';

/** The cut of everything recorded so far, as this transaction sees it. */
export async function getCutNow(tx: Tx): Promise<Cut> {
  const rows = await tx.query<Cut>(
    `select gh.last_seq as seq, gh.last_money_no as "moneyNo",
            case when gh.last_seq = 0 and gh.last_money_no = 0 then 0
                 else (extract(epoch from gh.last_recorded_at) * 1000)::int8 end as "recordedAtMs"
       from group_head gh where gh.group_id = $1::uuid`,
    [tx.groupId],
  );
  return onlyCut(rows);
}

/**
 * The cut of a past moment, found by halving: `recorded_at` never falls from one number to the next.
 * @param atMs milliseconds since 1970
 * @throws Refused `rule-broken` for a moment ahead of now
 */
export async function getCutAt(tx: Tx, atMs: number, nowMs: number): Promise<Cut> {
  if (atMs > nowMs) {
    const detail = 'That moment is ahead of now.';
    throw new Refused('rule-broken', detail, { errors: [{ detail, pointer: '#/query/recordedAt' }] });
  }
  const rows = await tx.query<Cut>(
    `with recursive halves (low, high) as (
       select 0::int8, gh.last_seq from group_head gh where gh.group_id = $1::uuid
       union all
       select case when e.recorded_at <= to_timestamp($2::float8 / 1000) then e.seq else h.low end,
              case when e.recorded_at <= to_timestamp($2::float8 / 1000) then h.high else e.seq - 1 end
         from halves h
         join entry e on e.group_id = $1::uuid and e.seq = (h.low + h.high + 1) / 2
        where h.low < h.high
     ), money_halves (low, high) as (
       select 0::int8, gh.last_money_no from group_head gh where gh.group_id = $1::uuid
       union all
       select case when m.recorded_at <= to_timestamp($2::float8 / 1000) then m.money_no else h.low end,
              case when m.recorded_at <= to_timestamp($2::float8 / 1000) then h.high else m.money_no - 1 end
         from money_halves h
         join money_fact m on m.group_id = $1::uuid and m.money_no = (h.low + h.high + 1) / 2
        where h.low < h.high
     ), found as (
       select (select max(h.low) from halves h) as seq, (select max(m.low) from money_halves m) as money_no
     )
     select f.seq, f.money_no as "moneyNo",
            coalesce((extract(epoch from greatest(
              (select e.recorded_at from entry e where e.group_id = $1::uuid and e.seq = f.seq),
              (select m.recorded_at from money_fact m where m.group_id = $1::uuid and m.money_no = f.money_no)
            )) * 1000)::int8, 0) as "recordedAtMs"
       from found f`,
    [tx.groupId, atMs],
  );
  return onlyCut(rows);
}

/**
 * Takes the next number for a fact that changes what food costs, or which month it belongs to. Locks the group's head row until the
 * commit, so call it late.
 */
export async function takeMoneyNo(
  tx: Tx,
  fact: { readonly kind: MoneyFactKind; readonly subjectId: string; readonly factId: string; readonly actorId: string },
  nowMs: number,
): Promise<number> {
  const rows = await tx.query<{ moneyNo: number }>(
    `with head as (
       update group_head h
          set last_money_no = h.last_money_no + 1,
              last_recorded_at = greatest(h.last_recorded_at, to_timestamp($6::float8 / 1000))
        where h.group_id = $1::uuid
       returning h.last_money_no, h.last_recorded_at
     )
     insert into money_fact (group_id, money_no, kind, subject_id, fact_id, actor_id, recorded_at)
     select $1::uuid, head.last_money_no, $2::text, $3::uuid, $4::uuid, $5::uuid, head.last_recorded_at from head
     returning money_no as "moneyNo"`,
    [tx.groupId, fact.kind, fact.subjectId, fact.factId, fact.actorId, nowMs],
  );
  const [row] = rows;
  if (!row) throw new Error('the group has no head row');
  return row.moneyNo;
}

function onlyCut(rows: readonly Cut[]): Cut {
  const [cut] = rows;
  if (!cut) throw new Error('the group has no head row');
  return cut;
}
