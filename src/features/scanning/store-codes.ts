/** SQL of what symbols name beside our own lot codes. */
import type { Tx } from '../../platform/db/db.ts';

interface SuppliedLotRow {
  readonly lotId: string;
  readonly gtin: string;
  readonly supplierLotCode: string;
}

/** Bought lots by article and the supplier's own lot code; with a site, those that were received there or are or were there. */
export async function listSuppliedLots(
  tx: Tx,
  siteId: string | null,
  gtins: readonly string[],
  supplierLotCodes: readonly string[],
): Promise<SuppliedLotRow[]> {
  return tx.query<SuppliedLotRow>(
    `select l.lot_id as "lotId", i.gtin, l.supplier_lot_code as "supplierLotCode"
       from lot l
       join item i on i.group_id = l.group_id and i.item_id = l.item_id
      where l.group_id = $1::uuid and l.supplier_lot_code = any($4::text[]) and i.gtin = any($3::text[])
        and ($2::uuid is null or l.site_id = $2::uuid or exists (
              select from balance b
                join account a on a.group_id = b.group_id and a.account_id = b.account_id
               where b.group_id = l.group_id and b.lot_id = l.lot_id and (a.site_id = $2::uuid or a.to_site_id = $2::uuid)))
      order by l.born_at desc, l.lot_id
      limit 50`,
    [tx.groupId, siteId, gtins, supplierLotCodes],
  );
}

interface ArticleRow {
  readonly itemId: string;
  readonly code: string;
  readonly name: string;
  readonly gtin: string;
}

export async function findArticle(tx: Tx, gtin: string): Promise<ArticleRow | null> {
  const rows = await tx.query<ArticleRow>(
    `select i.item_id as "itemId", i.code, i.name, i.gtin from item i
      where i.group_id = $1::uuid and i.gtin = $2::text
      order by i.active desc, i.item_id limit 1`,
    [tx.groupId, gtin],
  );
  return rows[0] ?? null;
}

interface SiteByGlnRow {
  readonly siteId: string;
  readonly code: string;
  readonly name: string;
}

export async function findSiteByGln(tx: Tx, gln: string): Promise<SiteByGlnRow | null> {
  const rows = await tx.query<SiteByGlnRow>(
    `select s.site_id as "siteId", s.code, s.name from site s
      where s.group_id = $1::uuid and s.gln = $2::text order by s.site_id limit 1`,
    [tx.groupId, gln],
  );
  return rows[0] ?? null;
}
