/**
 * SQL of what costs are reckoned from, as known at a cut: lots and prices, what went into each process, what stands of what came out,
 * batches and rates. One statement a table, for all or for those named.
 */
import type { Tx } from '../../../platform/db/db.ts';
import { processKey, type Cut } from '../../ledger/index.ts';

export interface CostLotRow {
  readonly lotId: string;
  readonly quantity: number;
  readonly massMg: number;
  readonly origin: 'supplied' | 'produced' | 'packed' | 'pseudo' | 'converted' | 'opening';
  readonly packaging: boolean;
  readonly lotTracked: boolean;
  readonly processId: string | null;
  /** the newest that was said; null: nobody said one apart from the delivery */
  readonly saidMinor: number | null;
  readonly saidPer: number | null;
  /** null: not delivered, or a line of its delivery has no price */
  readonly deliveredMinor: number | null;
  readonly deliveredPer: number | null;
  /** a line of its delivery says 0 */
  readonly deliveredZero: boolean | null;
}

/** @param lotIds null: all that moved by the cut */
export async function listCostLots(tx: Tx, cut: Cut, lotIds: readonly string[] | null): Promise<CostLotRow[]> {
  const named =
    lotIds === null
      ? 'and l.lot_id in (select p.lot_id from posting p where p.group_id = $1::uuid and p.seq <= $3::int8)'
      : 'and l.lot_id = any($3::uuid[])';
  return tx.query<CostLotRow>(
    `with said as materialized (
       select distinct on (p.lot_id) p.lot_id, p.price_minor, p.per_quantity
         from price p
        where p.group_id = $1::uuid and p.money_no <= $2::int8
        order by p.lot_id, p.money_no desc
     )
     select l.lot_id as "lotId", l.quantity, l.mass_mg as "massMg", l.origin, i.kind = 'packaging' as packaging,
            i.lot_tracked as "lotTracked",
            case l.origin when 'produced' then l.batch_id when 'packed' then l.packing_run_id
                          when 'converted' then c.conversion_id end as "processId",
            said.price_minor as "saidMinor", coalesce(said.per_quantity, l.quantity) as "saidPer",
            case when n.all_priced then n.price_minor end as "deliveredMinor", n.quantity as "deliveredPer",
            n.has_zero as "deliveredZero"
       from lot l
       join item i on i.group_id = l.group_id and i.item_id = l.item_id
       left join conversion c on l.origin = 'converted' and c.to_lot_id = l.lot_id and c.group_id = l.group_id
       left join said on said.lot_id = l.lot_id
       left join lateral (
         select sum(n.price_minor)::int8 as price_minor, sum(n.quantity)::int8 as quantity,
                bool_and(n.price_minor > 0) and bool_and(n.price_minor is not null) as all_priced,
                bool_or(n.price_minor = 0) as has_zero
           from goods_receipt_line n
          where n.group_id = l.group_id and n.goods_receipt_id = l.goods_receipt_id and n.lot_id = l.lot_id
       ) n on l.goods_receipt_id is not null
      where l.group_id = $1::uuid ${named}`,
    [tx.groupId, cut.moneyNo, lotIds ?? cut.seq],
  );
}

/** What stands as made of each lot, reversals net; lots of which nothing stands are left out. */
export async function listStanding(
  tx: Tx,
  cut: Cut,
  lotIds: readonly string[] | null,
): Promise<{ readonly lotId: string; readonly quantity: number }[]> {
  const named = lotIds === null ? '' : 'and p.lot_id = any($3::uuid[])';
  return tx.query(
    `with produced as materialized (
       select a.account_id from account a where a.group_id = $1::uuid and a.sign = 0 and a.kind = 'produced'
     )
     select x.lot_id as "lotId", sum(x.quantity)::int8 as quantity
       from (select p.lot_id, p.quantity
               from posting p join produced c on c.account_id = p.from_account_id
              where p.group_id = $1::uuid and p.seq <= $2::int8 ${named}
              union all
             select p.lot_id, -p.quantity
               from posting p join produced c on c.account_id = p.to_account_id
              where p.group_id = $1::uuid and p.seq <= $2::int8 ${named}) x
      group by x.lot_id
     having sum(x.quantity) <> 0`,
    lotIds === null ? [tx.groupId, cut.seq] : [tx.groupId, cut.seq, lotIds],
  );
}

export interface CostTakingRow {
  readonly processId: string;
  readonly lotId: string;
  readonly quantity: number;
  readonly firstSeq: number;
}

/** Entries of the processes named, and what undid them. */
const ENTRIES_OF = `
     asked as materialized (select x.process_id from unnest($3::uuid[]) as x(process_id)),
     own as materialized (
       select e.seq, e.entry_id from asked x join entry e on e.group_id = $1::uuid and e.batch_id = x.process_id and e.kind = 'batch-input'
       union
       select e.seq, e.entry_id from asked x join entry e on e.group_id = $1::uuid and e.packing_run_id = x.process_id and e.kind = 'packing'
       union
       select e.seq, e.entry_id from asked x join entry e on e.group_id = $1::uuid and e.fact_id = x.process_id
       union
       select e.seq, e.entry_id
         from asked x
         join conversion v on v.group_id = $1::uuid and v.conversion_id = x.process_id
         join entry e on e.group_id = $1::uuid and e.scan_id = v.scan_id
     ),
     chosen as materialized (
       select o.seq from own o
       union
       select r.seq from own o join entry r on r.group_id = $1::uuid and r.reverses_entry_id = o.entry_id
     ),`;

/** What went into each batch, packing run and conversion, net of reversals. */
export async function listCostTakings(
  tx: Tx,
  cut: Cut,
  processIds: readonly string[] | null,
): Promise<CostTakingRow[]> {
  const named = processIds === null ? '' : ENTRIES_OF;
  const from = processIds === null ? 'posting p' : 'chosen s join posting p on p.group_id = $1::uuid and p.seq = s.seq';
  return tx.query<CostTakingRow>(
    `with ${named}
     consumed as materialized (
       select a.account_id from account a where a.group_id = $1::uuid and a.sign = 0 and a.kind = 'consumed'
     ), crossed as (
       select p.lot_id, p.seq, p.quantity
         from ${from} join consumed c on c.account_id = p.to_account_id
        where p.group_id = $1::uuid and p.seq <= $2::int8
        union all
       select p.lot_id, p.seq, -p.quantity
         from ${from} join consumed c on c.account_id = p.from_account_id
        where p.group_id = $1::uuid and p.seq <= $2::int8
     ), taken as (
       select ${processKey('e', 'o', 'v')} as process_id, x.lot_id, sum(x.quantity)::int8 as quantity, min(x.seq) as first_seq
         from crossed x
         join entry e on e.group_id = $1::uuid and e.seq = x.seq
         left join entry o on o.group_id = e.group_id and o.entry_id = e.reverses_entry_id
         left join conversion v on v.group_id = e.group_id and v.scan_id = e.scan_id
        group by 1, 2
       having sum(x.quantity) <> 0
     )
     select t.process_id as "processId", t.lot_id as "lotId", t.quantity, t.first_seq as "firstSeq"
       from taken t ${processIds === null ? '' : 'join asked x on x.process_id = t.process_id'}`,
    processIds === null ? [tx.groupId, cut.seq] : [tx.groupId, cut.seq, processIds],
  );
}

export interface CostBatchRow {
  readonly batchId: string;
  readonly siteId: string;
  readonly recipeId: string;
  /** the site's date */
  readonly startedOn: string;
  readonly expectedYieldPpm: number;
  readonly gainsMg: number;
  readonly completed: boolean;
}

export async function listCostBatches(tx: Tx, cut: Cut, batchIds: readonly string[] | null): Promise<CostBatchRow[]> {
  const named = batchIds === null ? '' : 'and b.batch_id = any($3::uuid[])';
  return tx.query<CostBatchRow>(
    `select b.batch_id as "batchId", b.site_id as "siteId", b.recipe_id as "recipeId",
            (b.started_at at time zone s.time_zone)::date as "startedOn", b.expected_yield_ppm as "expectedYieldPpm",
            coalesce(b.completed_no <= $2::int8, false) as completed,
            coalesce((select sum(g.mass_mg) from batch_gain g
                       where g.group_id = b.group_id and g.batch_id = b.batch_id and b.completed_no <= $2::int8), 0)::int8 as "gainsMg"
       from batch b
       join site s on s.group_id = b.group_id and s.site_id = b.site_id
      where b.group_id = $1::uuid ${named}`,
    batchIds === null ? [tx.groupId, cut.moneyNo] : [tx.groupId, cut.moneyNo, batchIds],
  );
}

export interface RateRow {
  readonly costRateId: string;
  readonly kind: 'labour' | 'energy' | 'overhead' | 'packaging';
  readonly siteId: string | null;
  readonly recipeId: string | null;
  readonly perBatchMinor: number | null;
  readonly perKgMinor: number | null;
  readonly fromDate: string;
  readonly throughDate: string | null;
  readonly moneyNo: number;
}

/** All that were known at the cut, replaced ones too. */
export async function listRatesKnown(tx: Tx, cut: Cut): Promise<RateRow[]> {
  return tx.query<RateRow>(
    `select r.cost_rate_id as "costRateId", r.kind, r.site_id as "siteId", r.recipe_id as "recipeId",
            r.per_batch_minor as "perBatchMinor", r.per_kg_minor as "perKgMinor", r.from_date as "fromDate",
            r.through_date as "throughDate", r.money_no as "moneyNo"
       from cost_rate r
      where r.group_id = $1::uuid and r.money_no <= $2::int8
      order by r.money_no`,
    [tx.groupId, cut.moneyNo],
  );
}

/** The lots that these batches, packing runs and conversions made, each once. */
export async function listOutputsOf(tx: Tx, processIds: readonly string[]): Promise<string[]> {
  const rows = await tx.query<{ lotId: string }>(
    `with asked as materialized (select x.process_id from unnest($2::uuid[]) as x(process_id))
     select l.lot_id as "lotId"
       from asked x join lot l on l.group_id = $1::uuid and l.batch_id = x.process_id and l.origin = 'produced'
     union
     select l.lot_id from asked x join lot l on l.group_id = $1::uuid and l.packing_run_id = x.process_id and l.origin = 'packed'
     union
     select v.to_lot_id from asked x join conversion v on v.group_id = $1::uuid and v.conversion_id = x.process_id`,
    [tx.groupId, processIds],
  );
  return rows.map((row) => row.lotId);
}

/** For statements over everything: a table that was just filled has no statistics, and joining it row by row would take minutes. */
export async function setLoops(tx: Tx, value: 'on' | 'off'): Promise<void> {
  await tx.query(`select set_config('enable_nestloop', $1::text, true)`, [value]);
}
