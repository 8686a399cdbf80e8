/** SQL of a batch's record: its head, what went in, what came out, what was found. */
import type { Tx } from '../../../platform/db/db.ts';
import type { Address } from '../../../platform/http/address.ts';

export interface HeadRow {
  readonly groupName: string;
  readonly siteName: string;
  readonly siteAddress: Address | null;
  readonly jurisdiction: string;
  readonly recipeName: string;
  readonly itemName: string;
  readonly declaredAllergens: readonly string[];
  readonly openedBy: string | null;
}

export async function findHead(tx: Tx, batchId: string): Promise<HeadRow | null> {
  const rows = await tx.query<HeadRow>(
    `select g.name as "groupName", s.name as "siteName", s.address as "siteAddress", s.jurisdiction,
            r.name as "recipeName", i.name as "itemName", i.allergens as "declaredAllergens", f.actor_id as "openedBy"
       from batch b
       join groups g on g.group_id = b.group_id
       join site s on s.group_id = b.group_id and s.site_id = b.site_id
       join recipe r on r.group_id = b.group_id and r.recipe_id = b.recipe_id
       join item i on i.group_id = b.group_id and i.item_id = b.item_id
       left join fact f on f.group_id = b.group_id and f.fact_id = b.batch_id
      where b.group_id = $1::uuid and b.batch_id = $2::uuid`,
    [tx.groupId, batchId],
  );
  return rows[0] ?? null;
}

export interface InputFactsRow {
  readonly entryId: string;
  readonly takenAt: Date;
  readonly takenBy: string;
  readonly recordedAfterwards: boolean;
  readonly origin: string;
  readonly supplierName: string | null;
  readonly supplierLotCode: string | null;
  readonly documentNumber: string | null;
  readonly receivedAt: Date | null;
  readonly receivedTemperatureC: number | null;
  readonly fromBatchId: string | null;
  readonly fromBatchCode: string | null;
  readonly useByDate: string | null;
  readonly allergens: string[];
}

/** Where each input that stands came from; one row an entry, as an input takes one lot. */
export async function listInputFacts(tx: Tx, entryIds: readonly string[]): Promise<InputFactsRow[]> {
  return tx.query<InputFactsRow>(
    `select distinct on (e.entry_id) e.entry_id as "entryId", e.occurred_at as "takenAt", e.actor_id as "takenBy",
            coalesce(f.operation = 'createRecordedBatchInput', false) as "recordedAfterwards", l.origin,
            su.name as "supplierName", l.supplier_lot_code as "supplierLotCode", gr.document_number as "documentNumber",
            gr.occurred_at as "receivedAt", gl.temperature_c::float8 as "receivedTemperatureC",
            pb.batch_id as "fromBatchId", pb.code as "fromBatchCode",
            s.use_by_date as "useByDate", s.allergens
       from entry e
       join posting p on p.group_id = e.group_id and p.seq = e.seq
       join lot l on l.group_id = p.group_id and l.lot_id = p.lot_id
       join lot_state s on s.group_id = l.group_id and s.lot_id = l.lot_id
       left join fact f on f.group_id = e.group_id and f.fact_id = e.fact_id
       left join supplier su on su.group_id = l.group_id and su.supplier_id = l.supplier_id
       left join goods_receipt gr on gr.group_id = l.group_id and gr.goods_receipt_id = l.goods_receipt_id
       left join goods_receipt_line gl on gl.group_id = l.group_id and gl.goods_receipt_id = l.goods_receipt_id
                                      and gl.lot_id = l.lot_id
       left join packing_run pr on pr.group_id = l.group_id and pr.packing_run_id = l.packing_run_id
       left join batch pb on pb.group_id = l.group_id and pb.batch_id = coalesce(l.batch_id, pr.batch_id)
      where e.group_id = $1::uuid and e.entry_id = any($2::uuid[])
      order by e.entry_id, p.line_no`,
    [tx.groupId, entryIds],
  );
}

export interface LotFactsRow {
  readonly lotId: string;
  readonly massMg: number;
  readonly bornAt: Date;
  readonly cookEndedAtMs: number | null;
  readonly allergens: string[];
  readonly mayContain: string[];
  readonly itemAllergens: string[];
  readonly holds: string[];
}

export async function listLotFacts(tx: Tx, lotIds: readonly string[]): Promise<LotFactsRow[]> {
  return tx.query<LotFactsRow>(
    `select l.lot_id as "lotId", l.mass_mg as "massMg", l.born_at as "bornAt", (l.anchors ->> 'endOfCooking')::float8 as "cookEndedAtMs",
            s.allergens, s.may_contain as "mayContain", i.allergens as "itemAllergens",
            array(select distinct h.kind from hold_reach hr join hold h on h.group_id = hr.group_id and h.hold_id = hr.hold_id
                   where hr.group_id = l.group_id and hr.lot_id = l.lot_id and h.lifted_at is null
                     and h.kind <> 'use-by' order by h.kind) as holds
       from lot l
       join lot_state s on s.group_id = l.group_id and s.lot_id = l.lot_id
       join item i on i.group_id = l.group_id and i.item_id = l.item_id
      where l.group_id = $1::uuid and l.lot_id = any($2::uuid[])`,
    [tx.groupId, lotIds],
  );
}

export interface FindingRow {
  readonly findingId: string;
  readonly kind: string;
  readonly lotCode: string | null;
  readonly occurredAt: Date;
  readonly status: string;
  readonly settledBy: string | null;
  readonly settledAt: Date | null;
  readonly note: string | null;
}

/** What was found at the kitchen about these lots; oldest first. */
export async function listFindings(
  tx: Tx,
  siteId: string,
  lotIds: readonly string[],
  most: number,
): Promise<FindingRow[]> {
  return tx.query<FindingRow>(
    `select f.finding_id as "findingId", f.kind, l.code as "lotCode", f.occurred_at as "occurredAt", f.status,
            f.settled_by as "settledBy", f.settled_at as "settledAt", f.settlement_note as note
       from finding f
       left join lot l on l.group_id = f.group_id and l.lot_id = f.lot_id
      where f.group_id = $1::uuid and f.site_id = $2::uuid and f.lot_id = any($3::uuid[]) and f.status <> 'cleared'
      order by f.occurred_at, f.finding_id
      limit $4::int`,
    [tx.groupId, siteId, lotIds, most],
  );
}
