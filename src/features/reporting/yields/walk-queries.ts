/** SQL of the walk from plates back to what was bought: lots, what made them, what went in, where they went. All up to a cut. */
import type { Tx } from '../../../platform/db/db.ts';
import { processKey, type Cut } from '../../ledger/index.ts';
import type { Fate } from '../../../domain/yields/chain.ts';
import type { YieldsAsked } from './queries.ts';

export interface WalkLotRow {
  readonly lotId: string;
  readonly itemId: string;
  readonly itemName: string;
  readonly portionsPerUnit: number | null;
  readonly quantity: number;
  readonly massMg: number;
  readonly origin: 'supplied' | 'produced' | 'packed' | 'pseudo' | 'converted' | 'opening';
  readonly packaging: boolean;
  readonly lotTracked: boolean;
  /** batch, packing run or conversion; null: came from outside */
  readonly madeBy: string | null;
  /** in units, net of what was undone; 0 for what came from outside */
  readonly producedQuantity: number;
}

/** Lots as the walk needs them; what stands as produced by entries up to the cut. */
export async function listWalkLots(tx: Tx, lotIds: readonly string[], cut: Cut): Promise<WalkLotRow[]> {
  return tx.query<WalkLotRow>(
    `with produced as materialized (
       select a.account_id from account a where a.group_id = $1::uuid and a.sign = 0 and a.kind = 'produced'
     ), born as (
       select p.lot_id, sum(case when x.account_id = p.from_account_id then p.quantity else -p.quantity end) as quantity
         from posting p
         join produced x on x.account_id in (p.from_account_id, p.to_account_id)
        where p.group_id = $1::uuid and p.lot_id = any($2::uuid[]) and p.seq <= $3::int8
        group by p.lot_id
     )
     select l.lot_id as "lotId", l.item_id as "itemId", i.name as "itemName", i.portions_per_unit as "portionsPerUnit",
            l.quantity, l.mass_mg as "massMg", l.origin, i.kind = 'packaging' as packaging, i.lot_tracked as "lotTracked",
            case l.origin when 'produced' then l.batch_id when 'packed' then l.packing_run_id
                 when 'converted' then (select c.conversion_id from conversion c
                                         where c.group_id = l.group_id and c.to_lot_id = l.lot_id) end as "madeBy",
            coalesce(b.quantity, 0)::int8 as "producedQuantity"
       from lot l
       join item i on i.group_id = l.group_id and i.item_id = l.item_id
       left join born b on b.lot_id = l.lot_id
      where l.group_id = $1::uuid and l.lot_id = any($2::uuid[])
      order by l.lot_id`,
    [tx.groupId, lotIds, cut.seq],
  );
}

interface WalkTakingRow {
  readonly lotId: string;
  readonly processId: string;
  readonly quantity: number;
}

/** What of these lots went into these batches, packing runs and conversions, net of what was undone. */
export async function listWalkTakings(
  tx: Tx,
  lotIds: readonly string[],
  processIds: readonly string[],
  cut: Cut,
): Promise<WalkTakingRow[]> {
  return tx.query<WalkTakingRow>(
    `with consumed as materialized (
       select a.account_id from account a where a.group_id = $1::uuid and a.sign = 0 and a.kind = 'consumed'
     ), crossed as (
       select p.lot_id, p.seq, sum(case when c.account_id = p.to_account_id then p.quantity else -p.quantity end) as quantity
         from posting p
         join consumed c on c.account_id in (p.to_account_id, p.from_account_id)
        where p.group_id = $1::uuid and p.lot_id = any($2::uuid[]) and p.seq <= $4::int8
        group by p.lot_id, p.seq
     ), taken as (
       select x.lot_id, x.quantity,
              ${processKey('e', 'o', 'cv')} as process_id
         from crossed x
         join entry e on e.group_id = $1::uuid and e.seq = x.seq
         left join entry o on o.group_id = e.group_id and o.entry_id = e.reverses_entry_id
         left join conversion cv on cv.group_id = e.group_id and cv.scan_id = e.scan_id
     )
     select t.lot_id as "lotId", t.process_id as "processId", sum(t.quantity)::int8 as quantity
       from taken t
      where t.process_id = any($3::uuid[])
      group by 1, 2
     having sum(t.quantity) <> 0
      order by 1, 2`,
    [tx.groupId, lotIds, processIds, cut.seq],
  );
}

interface WalkBatchRow {
  readonly batchId: string;
  readonly steps: string[];
  readonly trimMg: number;
}

/** Of these processes those that are batches; trim counts once the completion is known at the cut. */
export async function listWalkBatches(tx: Tx, processIds: readonly string[], cut: Cut): Promise<WalkBatchRow[]> {
  return tx.query<WalkBatchRow>(
    `select b.batch_id as "batchId",
            coalesce(b.steps, (select r.steps from recipe r where r.group_id = b.group_id and r.recipe_id = b.recipe_id)) as steps,
            coalesce((select sum(l.mass_mg) from batch_loss l where l.group_id = b.group_id and l.batch_id = b.batch_id
                         and l.kind = 'trim' and b.completed_no <= $3::int8), 0)::int8 as "trimMg"
       from batch b
      where b.group_id = $1::uuid and b.batch_id = any($2::uuid[])
      order by b.batch_id`,
    [tx.groupId, processIds, cut.moneyNo],
  );
}

/** Loads and packs that came out of batches and packing runs on days of the period, at these sites; at most `limit`. */
export async function listMadeLots(
  tx: Tx,
  { fromDate, toDate, siteIds, recipeId }: YieldsAsked,
  cut: Cut,
  limit: number,
): Promise<string[]> {
  const rows = await tx.query<{ lotId: string }>(
    `with produced as materialized (
       select a.account_id from account a
        where a.group_id = $1::uuid and a.sign = 0 and a.kind = 'produced' and ($4::uuid[] is null or a.site_id = any($4::uuid[]))
     )
     select distinct p.lot_id as "lotId"
       from posting p
       join produced x on x.account_id = p.from_account_id
       join lot l on l.group_id = p.group_id and l.lot_id = p.lot_id and l.origin in ('produced', 'packed')
       left join batch b on b.group_id = l.group_id and b.batch_id = l.batch_id
      where ($7::uuid is null or b.recipe_id = $7::uuid) and p.group_id = $1::uuid and p.occurred_on >= $2::date and p.occurred_on <= $3::date and p.seq <= $5::int8
      limit $6::int`,
    [tx.groupId, fromDate, toDate, siteIds, cut.seq, limit, recipeId],
  );
  return rows.map((row) => row.lotId);
}

/** What was made of these lots by opening, portioning and the like at a site, and of that in turn. */
export async function listConverted(
  tx: Tx,
  lotIds: readonly string[],
): Promise<{ fromLotId: string; lotId: string }[]> {
  return tx.query<{ fromLotId: string; lotId: string }>(
    `with recursive down (from_lot_id, lot_id) as (
       select null::uuid, unnest($2::uuid[])
       union
       select le.parent_lot_id, le.child_lot_id
         from down d
         join lot_edge le on le.group_id = $1::uuid and le.parent_lot_id = d.lot_id
         join conversion c on c.group_id = le.group_id and c.to_lot_id = le.child_lot_id and c.conversion_id = le.process_id
     )
     select distinct d.from_lot_id as "fromLotId", d.lot_id as "lotId" from down d where d.from_lot_id is not null order by 1, 2`,
    [tx.groupId, lotIds],
  );
}

export interface FateRow {
  readonly lotId: string;
  readonly fate: Exclude<Fate, 'stock'> | 'produced' | 'convertedOn';
  readonly quantity: number;
}

/** How much of these lots left stock, by where it went, net of what came back or was undone; `produced` is below zero. */
export async function listFates(tx: Tx, lotIds: readonly string[], cut: Cut): Promise<FateRow[]> {
  return tx.query<FateRow>(
    `with outside as materialized (
       select a.account_id, a.kind from account a where a.group_id = $1::uuid and a.sign = 0
     )
     select p.lot_id as "lotId",
            case x.kind
              when 'served' then case when p.reason in ('staff-meal', 'tasting', 'donation', 'laboratory') then 'otherUse' else 'served' end
              when 'waste' then 'wasted'
              when 'variance' then 'adjusted'
              when 'supplier' then 'returned'
              when 'produced' then 'produced'
              else case coalesce(o.kind, e.kind) when 'batch-input' then 'madeOn' when 'packing' then 'packedOn' else 'convertedOn' end
            end as fate,
            sum(case when x.account_id = p.to_account_id then p.quantity else -p.quantity end)::int8 as quantity
       from posting p
       join outside x on x.account_id in (p.from_account_id, p.to_account_id)
       join entry e on e.group_id = p.group_id and e.seq = p.seq
       left join entry o on o.group_id = e.group_id and o.entry_id = e.reverses_entry_id
      where p.group_id = $1::uuid and p.lot_id = any($2::uuid[]) and p.seq <= $3::int8
      group by 1, 2
      order by 1, 2`,
    [tx.groupId, lotIds, cut.seq],
  );
}
