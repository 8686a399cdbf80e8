/**
 * SQL of checkpoints and of what lots cost at them.
 *
 * For joins: `costAt('$2', '$3')` is the text of a select, one row a lot: lot_id, unit_fine numeric (10^-18 of a minor unit for one unit of
 * quantity), bought_ug_per_unit numeric, unpriced_ppm int, uncosted_reason text or null. The parameters are `view.sqlAsOf`; `$1` is the group.
 * Lots that cost nothing and never did may have no row, so join it left; what `view.overrides` holds goes before.
 */
import type { LotCost, UncostedReason } from '../../../domain/costing/shapes.ts';
import type { Tx } from '../../../platform/db/db.ts';

export interface Checkpoint {
  readonly seq: number;
  readonly moneyNo: number;
}

export function costAt(seq: string, moneyNo: string): string {
  return `select distinct on (lc.lot_id) lc.lot_id, lc.unit_fine, lc.bought_ug_per_unit, lc.unpriced_ppm, lc.uncosted_reason
            from lot_cost lc
           where lc.group_id = $1::uuid and (lc.at_seq, lc.at_money_no) <= (${seq}::int8, ${moneyNo}::int8)
           order by lc.lot_id, lc.at_seq desc, lc.at_money_no desc`;
}

/** The newest at or before both numbers; null: none. */
export async function findCheckpoint(tx: Tx, before: Checkpoint): Promise<Checkpoint | null> {
  const rows = await tx.query<Checkpoint>(
    `select c.seq, c.money_no as "moneyNo"
       from cost_checkpoint c
      where c.group_id = $1::uuid and c.seq <= $2::int8 and c.money_no <= $3::int8
      order by c.seq desc, c.money_no desc
      limit 1`,
    [tx.groupId, before.seq, before.moneyNo],
  );
  return rows[0] ?? null;
}

export interface StoredCost {
  readonly lotId: string;
  readonly unitFine: string;
  readonly boughtUg: string;
  readonly unpricedPpm: number;
  readonly reason: UncostedReason | null;
}

/** Of these lots, those that have one at the checkpoint. */
export async function listStoredCosts(tx: Tx, at: Checkpoint, lotIds: readonly string[]): Promise<StoredCost[]> {
  return tx.query<StoredCost>(
    `select x.lot_id as "lotId", c.unit_fine::text as "unitFine", c.bought_ug_per_unit::text as "boughtUg",
            c.unpriced_ppm as "unpricedPpm", c.uncosted_reason as reason
       from unnest($4::uuid[]) as x(lot_id)
       join lateral (
         select lc.unit_fine, lc.bought_ug_per_unit, lc.unpriced_ppm, lc.uncosted_reason
           from lot_cost lc
          where lc.group_id = $1::uuid and lc.lot_id = x.lot_id
            and (lc.at_seq, lc.at_money_no) <= ($2::int8, $3::int8)
          order by lc.at_seq desc, lc.at_money_no desc
          limit 1
       ) c on true`,
    [tx.groupId, at.seq, at.moneyNo, lotIds],
  );
}

export async function insertCheckpoint(tx: Tx, at: Checkpoint, nowMs: number): Promise<void> {
  await tx.query(
    `insert into cost_checkpoint (group_id, seq, money_no, made_at)
     values ($1::uuid, $2::int8, $3::int8, to_timestamp($4::float8 / 1000))`,
    [tx.groupId, at.seq, at.moneyNo, nowMs],
  );
}

export async function insertCosts(tx: Tx, at: Checkpoint, costs: readonly LotCost[]): Promise<void> {
  await tx.query(
    `insert into lot_cost (group_id, lot_id, at_seq, at_money_no, unit_fine, bought_ug_per_unit, unpriced_ppm, uncosted_reason)
     select $1::uuid, x.lot_id, $2::int8, $3::int8, x.unit_fine, x.bought_ug, x.unpriced_ppm, x.reason
       from unnest($4::uuid[], $5::numeric[], $6::numeric[], $7::int[], $8::text[])
         as x(lot_id, unit_fine, bought_ug, unpriced_ppm, reason)`,
    [
      tx.groupId,
      at.seq,
      at.moneyNo,
      costs.map((cost) => cost.lotId),
      costs.map((cost) => cost.unitFine.toString()),
      costs.map((cost) => cost.boughtUgPerUnit.toString()),
      costs.map((cost) => cost.unpricedPpm),
      costs.map((cost) => cost.reason),
    ],
  );
}

/**
 * Lots with a row between two checkpoints, and of those reckoned in memory, that moved by entries up to a cut.
 * @param reckoned may name a lot twice
 */
export async function listChangedIds(
  tx: Tx,
  cut: Checkpoint,
  from: Checkpoint,
  to: Checkpoint,
  reckoned: readonly string[],
): Promise<string[]> {
  const rows = await tx.query<{ lotId: string }>(
    `select x.lot_id as "lotId"
       from (select lc.lot_id from lot_cost lc
              where lc.group_id = $1::uuid and (lc.at_seq, lc.at_money_no) > ($3::int8, $4::int8)
                and (lc.at_seq, lc.at_money_no) <= ($5::int8, $6::int8)
             union
             select unnest($7::uuid[])) x
      where exists (select from posting p where p.group_id = $1::uuid and p.lot_id = x.lot_id and p.seq <= $2::int8)
      order by x.lot_id`,
    [tx.groupId, cut.seq, from.seq, from.moneyNo, to.seq, to.moneyNo, reckoned],
  );
  return rows.map((row) => row.lotId);
}

/** One refresh at a time: two that began from the same checkpoint would each leave out what only the other changed. */
export async function lockCheckpoints(tx: Tx): Promise<void> {
  await tx.query(`select pg_advisory_xact_lock(hashtextextended('cost-checkpoint:' || $1::text, 0))`, [tx.groupId]);
}
