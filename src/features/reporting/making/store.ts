/** SQL of what running out costs. */
import type { Tx } from '../../../platform/db/db.ts';

export interface RunOutCostRow {
  readonly runOutCostId: string;
  readonly siteId: string | null;
  readonly itemId: string | null;
  readonly costMinor: number | null;
  readonly perQuantity: number;
  readonly ratioPercent: number | null;
  readonly note: string | null;
  readonly recordedAt: Date;
  readonly recordedBy: string;
}

export async function insertRunOutCost(tx: Tx, row: RunOutCostRow): Promise<void> {
  await tx.query(
    `insert into run_out_cost (group_id, run_out_cost_id, site_id, item_id, cost_minor, per_quantity, ratio_percent, note, recorded_at,
            recorded_by)
     values ($1::uuid, $2::uuid, $3::uuid, $4::uuid, $5::int8, $6::int8, $7::int4, $8::text, $9::timestamptz, $10::uuid)`,
    [
      tx.groupId,
      row.runOutCostId,
      row.siteId,
      row.itemId,
      row.costMinor,
      row.perQuantity,
      row.ratioPercent,
      row.note,
      row.recordedAt,
      row.recordedBy,
    ],
  );
}

/** The newest of the most specific: item and site, then item, then site, then all. */
export async function findRunOutCost(
  tx: Tx,
  siteId: string,
  itemId: string,
  recordedByMs: number,
): Promise<RunOutCostRow | null> {
  const rows = await tx.query<RunOutCostRow>(
    `select c.run_out_cost_id as "runOutCostId", c.site_id as "siteId", c.item_id as "itemId", c.cost_minor as "costMinor",
            c.per_quantity as "perQuantity", c.ratio_percent as "ratioPercent", c.note, c.recorded_at as "recordedAt",
            c.recorded_by as "recordedBy"
       from run_out_cost c
      where c.group_id = $1::uuid and (c.site_id is null or c.site_id = $2::uuid) and (c.item_id is null or c.item_id = $3::uuid)
        and c.recorded_at <= to_timestamp($4::float8 / 1000)
      order by c.item_id nulls last, c.site_id nulls last, c.stated_no desc
      limit 1`,
    [tx.groupId, siteId, itemId, recordedByMs],
  );
  return rows[0] ?? null;
}
