/** SQL of baselines of savings, and of what was bought, served and wasted in a period. */
import type { Tx } from '../../../platform/db/db.ts';
import type { Cut } from '../../ledger/index.ts';

export interface BaselineRow {
  readonly baselineId: string;
  /** 'YYYY-MM' */
  readonly month: string;
  readonly throughMonth: string;
  readonly seq: number;
  readonly moneyNo: number;
  readonly note: string | null;
  readonly recordedAt: Date;
}

export async function insertBaseline(
  tx: Tx,
  row: Omit<BaselineRow, 'recordedAt'> & { readonly actorId: string },
  nowMs: number,
): Promise<void> {
  await tx.query(
    `insert into savings_baseline (group_id, baseline_id, month, through_month, cut_seq, cut_money_no, note, created_by, recorded_at)
     values ($1::uuid, $2::uuid, ($3::text || '-01')::date, ($4::text || '-01')::date, $5::int8, $6::int8, $7::text, $8::uuid,
             to_timestamp($9::float8 / 1000))`,
    [tx.groupId, row.baselineId, row.month, row.throughMonth, row.seq, row.moneyNo, row.note, row.actorId, nowMs],
  );
}

/** The newest baseline that was chosen by a moment. */
export async function findNewestBaseline(tx: Tx, byMs: number): Promise<BaselineRow | null> {
  const rows = await tx.query<BaselineRow>(
    `select b.baseline_id as "baselineId", to_char(b.month, 'YYYY-MM') as month, to_char(b.through_month, 'YYYY-MM') as "throughMonth",
            b.cut_seq as seq, b.cut_money_no as "moneyNo", b.note, b.recorded_at as "recordedAt"
       from savings_baseline b
      where b.group_id = $1::uuid and b.recorded_at <= to_timestamp($2::float8 / 1000)
      order by b.recorded_at desc, b.baseline_id desc limit 1`,
    [tx.groupId, byMs],
  );
  return rows[0] ?? null;
}

/** First and last day, both inside. */
export interface Days {
  readonly fromDate: string;
  readonly toDate: string;
}

export interface BoughtRow {
  readonly lotId: string;
  readonly lotQuantity: number;
  readonly lotMassMg: number;
  /** net of what went back */
  readonly quantity: number;
}

/** Food that suppliers brought on days of the period, less what they took back then, by lot. */
export async function listBought(tx: Tx, { fromDate, toDate }: Days, cut: Cut): Promise<BoughtRow[]> {
  return tx.query<BoughtRow>(
    `with supplier as materialized (
       select a.account_id from account a where a.group_id = $1::uuid and a.sign = 0 and a.kind = 'supplier'
     ), came as (
       select p.lot_id, sum(case when x.account_id = p.from_account_id then p.quantity else -p.quantity end)::int8 as quantity
         from posting p
         join supplier x on x.account_id in (p.from_account_id, p.to_account_id)
        where p.group_id = $1::uuid and p.occurred_on >= $2::date and p.occurred_on <= $3::date and p.seq <= $4::int8
        group by p.lot_id
     )
     select l.lot_id as "lotId", l.quantity as "lotQuantity", l.mass_mg as "lotMassMg", c.quantity
       from came c
       join lot l on l.group_id = $1::uuid and l.lot_id = c.lot_id and l.origin = 'supplied'
       join item i on i.group_id = l.group_id and i.item_id = l.item_id and i.kind <> 'packaging' and i.lot_tracked
      where c.quantity <> 0
      order by l.lot_id`,
    [tx.groupId, fromDate, toDate, cut.seq],
  );
}

export interface WentRow {
  readonly lotId: string;
  readonly where: 'served' | 'otherwise' | 'wasted' | 'making';
  readonly quantity: number;
}

/**
 * Food that came to its end on days of the period, by lot and net of what came back or was undone. `making` is what went in less what came
 * out: summed over a batch, what it lost.
 */
export async function listUsedUp(tx: Tx, { fromDate, toDate }: Days, cut: Cut): Promise<WentRow[]> {
  return tx.query<WentRow>(
    `with outside as materialized (
       select a.account_id, a.kind from account a where a.group_id = $1::uuid and a.sign = 0 and a.kind in ('served', 'waste', 'consumed', 'produced')
     )
     select p.lot_id as "lotId",
            case when x.kind = 'waste' then 'wasted' when x.kind in ('consumed', 'produced') then 'making'
                 when p.reason in ('staff-meal', 'tasting', 'donation', 'laboratory') then 'otherwise' else 'served' end as where,
            sum(case when x.account_id = p.to_account_id then p.quantity else -p.quantity end)::int8 as quantity
       from posting p
       join outside x on x.account_id in (p.from_account_id, p.to_account_id)
      where p.group_id = $1::uuid and p.occurred_on >= $2::date and p.occurred_on <= $3::date and p.seq <= $4::int8
      group by 1, 2
     having sum(case when x.account_id = p.to_account_id then p.quantity else -p.quantity end) <> 0
      order by 1, 2`,
    [tx.groupId, fromDate, toDate, cut.seq],
  );
}

/** The group's currency, ISO 4217, and the time zones of its sites. */
export async function getGroupFacts(tx: Tx): Promise<{ currency: string; timeZones: string[] }> {
  const rows = await tx.query<{ currency: string; timeZones: string[] }>(
    `select g.currency, array(select distinct s.time_zone from site s where s.group_id = g.group_id order by 1) as "timeZones"
       from groups g where g.group_id = $1::uuid`,
    [tx.groupId],
  );
  const [group] = rows;
  if (!group) throw new Error('The group has no row of its own');
  return group;
}
