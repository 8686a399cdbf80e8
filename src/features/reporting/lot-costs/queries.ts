/** SQL of what is said about the cost of one lot. */
import type { Tx } from '../../../platform/db/db.ts';
import type { Cut } from '../../ledger/index.ts';

type Unit = 'mg' | 'g' | 'ml' | 'piece';

export interface NamedLotRow {
  readonly lotId: string;
  readonly lotCode: string;
  readonly itemName: string;
  readonly unit: Unit;
}

export async function listNamedLots(tx: Tx, lotIds: readonly string[]): Promise<Map<string, NamedLotRow>> {
  const rows = await tx.query<NamedLotRow>(
    `select l.lot_id as "lotId", l.code as "lotCode", i.name as "itemName", l.unit
       from lot l join item i on i.group_id = l.group_id and i.item_id = l.item_id
      where l.group_id = $1::uuid and l.lot_id = any($2::uuid[])`,
    [tx.groupId, lotIds],
  );
  return new Map(rows.map((row) => [row.lotId, row]));
}

/** True when something of the lot is recorded by the cut. */
export async function isKnownAt(tx: Tx, lotId: string, cut: Cut): Promise<boolean> {
  const rows = await tx.query<{ known: boolean }>(
    `select exists (select from posting p where p.group_id = $1::uuid and p.lot_id = $2::uuid and p.seq <= $3::int8) as known`,
    [tx.groupId, lotId, cut.seq],
  );
  return rows[0]?.known ?? false;
}

export interface SaidPriceRow {
  readonly priceId: string | null;
  readonly priceMinor: number;
  readonly perQuantity: number;
  readonly freeOfCharge: boolean;
  readonly invoiceNumber: string | null;
  readonly reason: string | null;
  readonly recordedAt: Date | null;
}

/** The newest first; what the delivery lines said, where all of them did, is the oldest. */
export async function listSaidPrices(tx: Tx, lotId: string, cut: Cut): Promise<SaidPriceRow[]> {
  return tx.query<SaidPriceRow>(
    `select x.price_id as "priceId", x.price_minor as "priceMinor", x.per_quantity as "perQuantity", x.free_of_charge as "freeOfCharge",
            x.invoice_number as "invoiceNumber", x.reason, x.recorded_at as "recordedAt"
       from (select p.price_id, p.price_minor, coalesce(p.per_quantity, l.quantity) as per_quantity, p.free_of_charge, p.invoice_number,
                    p.reason, p.recorded_at, p.money_no
               from price p join lot l on l.group_id = p.group_id and l.lot_id = p.lot_id
              where p.group_id = $1::uuid and p.lot_id = $2::uuid and p.money_no <= $3::int8
             union all
             select null, sum(n.price_minor)::int8, sum(n.quantity)::int8, false, null, null, null, 0
               from lot l
               join goods_receipt_line n on n.group_id = l.group_id and n.goods_receipt_id = l.goods_receipt_id and n.lot_id = l.lot_id
              where l.group_id = $1::uuid and l.lot_id = $2::uuid
             having bool_and(n.price_minor is not null)) x
      order by x.money_no desc`,
    [tx.groupId, lotId, cut.moneyNo],
  );
}

export interface VersionRow {
  readonly recordedAt: Date;
  readonly unitFine: string;
}

/** What checkpoints up to one found, the newest first. */
export async function listCostVersions(
  tx: Tx,
  lotId: string,
  at: { readonly seq: number; readonly moneyNo: number },
): Promise<VersionRow[]> {
  return tx.query<VersionRow>(
    `select coalesce(greatest(e.recorded_at, m.recorded_at), c.made_at) as "recordedAt", lc.unit_fine::text as "unitFine"
       from lot_cost lc
       join cost_checkpoint c on c.group_id = lc.group_id and c.seq = lc.at_seq and c.money_no = lc.at_money_no
       left join entry e on e.group_id = lc.group_id and e.seq = lc.at_seq
       left join money_fact m on m.group_id = lc.group_id and m.money_no = lc.at_money_no
      where lc.group_id = $1::uuid and lc.lot_id = $2::uuid and (lc.at_seq, lc.at_money_no) <= ($3::int8, $4::int8)
      order by lc.at_seq desc, lc.at_money_no desc
      limit 50`,
    [tx.groupId, lotId, at.seq, at.moneyNo],
  );
}

/** The batch's code; of a packing run, that of the batch that was packed. */
export async function findProcessCode(tx: Tx, processId: string): Promise<string | null> {
  const rows = await tx.query<{ code: string }>(
    `select b.code from batch b where b.group_id = $1::uuid and b.batch_id = $2::uuid
     union all
     select b.code from packing_run r join batch b on b.group_id = r.group_id and b.batch_id = r.batch_id
      where r.group_id = $1::uuid and r.packing_run_id = $2::uuid`,
    [tx.groupId, processId],
  );
  return rows[0]?.code ?? null;
}
