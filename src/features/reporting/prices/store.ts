/** SQL on price. */
import type { Tx } from '../../../platform/db/db.ts';
import type { SiteScope } from '../../../platform/http/contract.ts';
import type { Page } from '../../../platform/http/paging.ts';

export interface NewPriceRow {
  readonly priceId: string;
  readonly lotId: string;
  readonly priceMinor: number;
  readonly perQuantity: number | null;
  readonly freeOfCharge: boolean;
  readonly invoiceNumber: string | null;
  readonly reason: string | null;
  readonly moneyNo: number;
  readonly recordedBy: string;
}

/** Call it after the number is taken: then no other price of the lot can come between. @returns the price before it */
export async function insertPrice(tx: Tx, row: NewPriceRow, nowMs: number): Promise<string | null> {
  const rows = await tx.query<{ supersedesPriceId: string | null }>(
    `insert into price (group_id, price_id, lot_id, price_minor, per_quantity, free_of_charge, invoice_number, reason,
            supersedes_price_id, money_no, recorded_by, recorded_at)
     values ($1::uuid, $2::uuid, $3::uuid, $4::int8, $5::int8, $6::boolean, $7::text, $8::text,
            (select p.price_id from price p where p.group_id = $1::uuid and p.lot_id = $3::uuid order by p.money_no desc limit 1),
            $9::int8, $10::uuid, to_timestamp($11::float8 / 1000))
     returning supersedes_price_id as "supersedesPriceId"`,
    [
      tx.groupId,
      row.priceId,
      row.lotId,
      row.priceMinor,
      row.perQuantity,
      row.freeOfCharge,
      row.invoiceNumber,
      row.reason,
      row.moneyNo,
      row.recordedBy,
      nowMs,
    ],
  );
  return rows[0]?.supersedesPriceId ?? null;
}

export interface PriceRow {
  readonly priceId: string;
  readonly lotId: string;
  readonly lotCode: string;
  readonly itemName: string;
  readonly priceMinor: number;
  readonly perQuantity: number | null;
  readonly unit: 'mg' | 'g' | 'ml' | 'piece';
  readonly freeOfCharge: boolean;
  readonly invoiceNumber: string | null;
  readonly reason: string | null;
  readonly supersedesPriceId: string | null;
  readonly moneyNo: number;
  readonly recordedAt: Date;
  readonly recordedBy: string;
}

/** Newest first, one more than the page holds. */
export async function listPriceRows(tx: Tx, scope: SiteScope, lotId: string | null, page: Page): Promise<PriceRow[]> {
  return tx.query<PriceRow>(
    `select p.price_id as "priceId", p.lot_id as "lotId", l.code as "lotCode", i.name as "itemName", p.price_minor as "priceMinor",
            p.per_quantity as "perQuantity", l.unit, p.free_of_charge as "freeOfCharge", p.invoice_number as "invoiceNumber", p.reason,
            p.supersedes_price_id as "supersedesPriceId", p.money_no as "moneyNo", p.recorded_at as "recordedAt",
            p.recorded_by as "recordedBy"
       from price p
       join lot l on l.group_id = p.group_id and l.lot_id = p.lot_id
       join item i on i.group_id = l.group_id and i.item_id = l.item_id
      where p.group_id = $1::uuid and ($2::boolean or l.site_id = any($3::uuid[]))
        and ($4::uuid is null or p.lot_id = $4::uuid)
        and ($5::int8 is null or p.money_no < $5::int8)
      order by p.money_no desc limit $6::int`,
    [tx.groupId, scope.all, scope.siteIds, lotId, page.after?.[0] ?? null, page.limit + 1],
  );
}

/** True when something of the lot moved before a day by entries up to one. */
export async function movedBefore(tx: Tx, lotId: string, day: string, cutSeq: number): Promise<boolean> {
  const rows = await tx.query<{ moved: boolean }>(
    `select exists (select from posting p
                     where p.group_id = $1::uuid and p.lot_id = $2::uuid and p.occurred_on < $3::date and p.seq <= $4::int8) as moved`,
    [tx.groupId, lotId, day, cutSeq],
  );
  return rows[0]?.moved ?? false;
}
