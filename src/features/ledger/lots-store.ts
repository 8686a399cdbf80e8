/** SQL of lots: birth, look-up, what is in force, edges and what spreads along them. */
import { Refused } from '../../domain/errors.ts';
import type { SiteScope } from '../../platform/http/contract.ts';
import type { Tx } from '../../platform/db/db.ts';
import { joinWatched } from './case-holds.ts';

export interface LotRow {
  readonly lotId: string;
  readonly code: string;
  readonly itemId: string;
  readonly itemCode: string;
  readonly itemName: string;
  readonly itemKind: string;
  readonly lotTracked: boolean;
  /** how it is kept, as it is now: decides where it is presumed to be put */
  readonly storage: 'chilled' | 'frozen' | 'ambient';
  readonly unit: 'mg' | 'g' | 'ml' | 'piece';
  readonly quantity: number;
  readonly massMg: number;
  readonly origin: 'supplied' | 'produced' | 'packed' | 'pseudo' | 'converted' | 'opening';
  readonly siteId: string;
  readonly siteTimeZone: string;
  readonly serialised: boolean;
  readonly bornAt: Date;
  readonly handling: 'raw' | 'ready-to-eat';
  readonly storageInstruction: string;
  readonly printedUseByAt: Date | null;
  readonly printedUseByDate: string | null;
  readonly useByAtMs: number | null;
  readonly useByDate: string | null;
  readonly useByBasis: unknown;
  readonly anchors: Readonly<Record<string, number>>;
  readonly allergens: readonly string[];
  readonly mayContain: readonly string[];
  readonly supplierId: string | null;
  readonly supplierLotCode: string | null;
  /** bought for cash there: no supplier of the catalogue */
  readonly shopName: string | null;
  /** about quality; blocks nothing */
  readonly bestBeforeDate: string | null;
  readonly goodsReceiptId: string | null;
  readonly batchId: string | null;
  readonly loadNo: number | null;
  readonly packingRunId: string | null;
}

export const LOT_COLUMNS = `l.lot_id as "lotId", l.code, l.item_id as "itemId", i.code as "itemCode", i.name as "itemName",
  i.kind as "itemKind", i.lot_tracked as "lotTracked",
  case when l.anchors ? 'frozenAt' then 'frozen' when l.anchors ? 'thawStart' and i.storage = 'frozen' then 'chilled'
       else i.storage end as storage, l.unit, l.quantity, l.mass_mg as "massMg", l.origin,
  l.site_id as "siteId", si.time_zone as "siteTimeZone", l.serialised, l.born_at as "bornAt", coalesce(s.handling, l.handling) as handling,
  l.storage_instruction as "storageInstruction", l.printed_use_by_at as "printedUseByAt",
  l.printed_use_by_date as "printedUseByDate",
  case when s.use_by_at = 'infinity' then null else (extract(epoch from s.use_by_at) * 1000)::int8 end as "useByAtMs",
  s.use_by_date as "useByDate", l.use_by_basis as "useByBasis",
  case when s.thaw_start_at is null then l.anchors else l.anchors || jsonb_build_object('thawStart',
    (extract(epoch from s.thaw_start_at) * 1000)::int8) end as anchors, s.allergens,
  array(select m.code from unnest(s.may_contain) as m(code) where m.code <> all (s.allergens)) as "mayContain",
  l.supplier_id as "supplierId", l.supplier_lot_code as "supplierLotCode", l.shop_name as "shopName",
  l.best_before_date as "bestBeforeDate", l.goods_receipt_id as "goodsReceiptId",
  l.batch_id as "batchId", l.load_no as "loadNo", l.packing_run_id as "packingRunId"`;

export const LOT_JOINS = `join lot_state s on s.group_id = l.group_id and s.lot_id = l.lot_id
  join item i on i.group_id = l.group_id and i.item_id = l.item_id
  join site si on si.group_id = l.group_id and si.site_id = l.site_id`;

/** A lot is visible where it was born, is, was, or is on its way to. */
export const LOT_VISIBLE = (allParam: string, sitesParam: string) => `(${allParam}::boolean
  or l.site_id = any(${sitesParam}::uuid[])
  or exists (select from balance vb join account va on va.group_id = vb.group_id and va.account_id = vb.account_id
      where vb.group_id = l.group_id and vb.lot_id = l.lot_id
        and (va.site_id = any(${sitesParam}::uuid[]) or va.to_site_id = any(${sitesParam}::uuid[]))))`;

/** Any lot of the group: for observations, whoever has the pack in hand may say what happened to it. */
export async function findLots(tx: Tx, lotIds: readonly string[]): Promise<Map<string, LotRow>> {
  const rows = await tx.query<LotRow>(
    `select ${LOT_COLUMNS} from lot l ${LOT_JOINS} where l.group_id = $1::uuid and l.lot_id = any($2::uuid[])`,
    [tx.groupId, lotIds],
  );
  return new Map(rows.map((row) => [row.lotId, row]));
}

/** For requests and answers: only lots that the actor's sites have to do with. */
export async function findVisibleLots(
  tx: Tx,
  scope: SiteScope,
  lotIds: readonly string[],
): Promise<Map<string, LotRow>> {
  const rows = await tx.query<LotRow>(
    `select ${LOT_COLUMNS} from lot l ${LOT_JOINS}
      where l.group_id = $1::uuid and l.lot_id = any($2::uuid[]) and ${LOT_VISIBLE('$3', '$4')}`,
    [tx.groupId, lotIds, scope.all, scope.siteIds],
  );
  return new Map(rows.map((row) => [row.lotId, row]));
}

/** By code, as a label says it. Keyed by code. */
export async function findLotsByCode(tx: Tx, codes: readonly string[]): Promise<Map<string, LotRow>> {
  const rows = await tx.query<LotRow>(
    `select ${LOT_COLUMNS} from lot l ${LOT_JOINS} where l.group_id = $1::uuid and l.code = any($2::text[])`,
    [tx.groupId, codes],
  );
  return new Map(rows.map((row) => [row.code, row]));
}

export interface LotDraft {
  readonly lotId: string;
  readonly code: string;
  readonly itemId: string;
  readonly unit: string;
  readonly quantity: number;
  readonly massMg: number;
  readonly origin: 'supplied' | 'produced' | 'packed' | 'pseudo' | 'converted' | 'opening';
  readonly siteId: string;
  readonly serialised: boolean;
  readonly bornAtMs: number;
  readonly handling: string;
  readonly storageInstruction: string;
  readonly useBy: { readonly endsAtMs: number; readonly date: string | null } | null;
  readonly useByBasis: unknown;
  readonly anchors: Readonly<Record<string, number>>;
  readonly allergens: readonly string[];
  readonly mayContain: readonly string[];
  readonly supplierId?: string;
  readonly supplierLotCode?: string | null;
  readonly shopName?: string | null;
  readonly bestBeforeDate?: string | null;
  readonly goodsReceiptId?: string;
  readonly batchId?: string;
  readonly loadNo?: number;
  readonly packingRunId?: string;
}

/** A delivery of a supplier's lot that is being recalled comes under the case's hold at once. */
export async function insertLots(tx: Tx, lots: readonly LotDraft[], nowMs: number): Promise<void> {
  const rows = lots.map((lot) => ({
    ...lot,
    useByAtMs: lot.useBy?.endsAtMs ?? null,
    useByDate: lot.useBy?.date ?? null,
  }));
  await tx.query(
    `insert into lot (group_id, lot_id, code, item_id, unit, quantity, mass_mg, origin, site_id, serialised, born_at, handling,
            storage_instruction, printed_use_by_at, printed_use_by_date, use_by_basis, anchors, allergens, may_contain,
            supplier_id, supplier_lot_code, goods_receipt_id, batch_id, load_no, packing_run_id, shop_name,
            best_before_date)
     select $1::uuid, r."lotId", r.code, r."itemId", r.unit, r.quantity, r."massMg", r.origin, r."siteId", r.serialised,
            to_timestamp(r."bornAtMs" / 1000.0), r.handling, r."storageInstruction", to_timestamp(r."useByAtMs" / 1000.0),
            r."useByDate", coalesce(r."useByBasis", 'null'), r.anchors, r.allergens, r."mayContain", r."supplierId",
            r."supplierLotCode", r."goodsReceiptId", r."batchId", r."loadNo", r."packingRunId",
            r."shopName", r."bestBeforeDate"
       from jsonb_to_recordset($2::jsonb) as r("lotId" uuid, code text, "itemId" uuid, unit text, quantity int8, "massMg" int8,
            origin text, "siteId" uuid, serialised boolean, "bornAtMs" numeric, handling text, "storageInstruction" text,
            "useByAtMs" numeric, "useByDate" date, "useByBasis" jsonb, anchors jsonb, allergens text[], "mayContain" text[],
            "supplierId" uuid, "supplierLotCode" text, "goodsReceiptId" uuid, "batchId" uuid, "loadNo" int,
            "packingRunId" uuid, "shopName" text, "bestBeforeDate" date)`,
    [tx.groupId, JSON.stringify(rows)],
  );
  await tx.query(
    `insert into lot_state (group_id, lot_id, use_by_at, use_by_date, allergens, may_contain)
     select $1::uuid, r."lotId", coalesce(to_timestamp(r."useByAtMs" / 1000.0), 'infinity'), r."useByDate", r.allergens,
            r."mayContain"
       from jsonb_to_recordset($2::jsonb)
         as r("lotId" uuid, "useByAtMs" numeric, "useByDate" date, allergens text[], "mayContain" text[])`,
    [tx.groupId, JSON.stringify(rows)],
  );
  const delivered = lots.filter((lot) => lot.supplierId !== undefined && typeof lot.supplierLotCode === 'string');
  if (delivered.length > 0) {
    await joinWatched(
      tx,
      delivered.map((lot) => lot.lotId),
      nowMs,
    );
  }
}

/** A million tonnes: what a quantity in grams can say at most. Beyond 2^53 mg no answer could give the mass any more. */
const MOST_MASS_MG = 1e15;

/**
 * Lot ids and codes are names for ever: one that exists is refused (`code-taken`) before anything is written; and so is a lot that would
 * weigh more than can be said (`rule-broken`).
 */
export async function requireFreeLots(
  tx: Tx,
  lots: readonly Pick<LotDraft, 'lotId' | 'code' | 'massMg'>[],
): Promise<void> {
  const heavy = lots.find((lot) => lot.massMg > MOST_MASS_MG);
  if (heavy) throw new Refused('rule-broken', `Lot ${heavy.code} would weigh more than a million tonnes.`);
  const codes = lots.map((lot) => lot.code);
  const lotIds = lots.map((lot) => lot.lotId);
  if (new Set(codes).size < lots.length || new Set(lotIds).size < lots.length) {
    throw new Refused('code-taken', 'Two lots of this request have the same id or code.');
  }
  const rows = await tx.query<{ code: string }>(
    `select l.code from lot l where l.group_id = $1::uuid and (l.code = any($2::text[]) or l.lot_id = any($3::uuid[]))`,
    [tx.groupId, codes, lotIds],
  );
  if (rows[0]) throw new Refused('code-taken', `There is a lot ${rows[0].code} already.`);
}

export interface LotChangeRow {
  readonly kind: 'use-by-earlier' | 'allergens-added';
  readonly detail: Record<string, unknown>;
  readonly causeLotId: string | null;
  readonly actorId: string;
  readonly recordedAt: Date;
}

export async function listLotChanges(tx: Tx, lotId: string): Promise<LotChangeRow[]> {
  return tx.query<LotChangeRow>(
    `select c.kind, c.detail, c.cause_lot_id as "causeLotId", c.actor_id as "actorId", c.recorded_at as "recordedAt"
       from lot_change c where c.group_id = $1::uuid and c.lot_id = $2::uuid order by c.recorded_at, c.change_id`,
    [tx.groupId, lotId],
  );
}

/** Brings the date in force of one lot forward; the change is named by the fact that decided it. */
export async function tightenUseBy(
  tx: Tx,
  change: { changeId: string; lotId: string; endsAtMs: number; date: string | null; reason: string; actorId: string },
  nowMs: number,
): Promise<void> {
  await tx.query(
    `with tightened as (
       update lot_state s set use_by_at = to_timestamp($3::float8 / 1000), use_by_date = $4::date
        where s.group_id = $1::uuid and s.lot_id = $2::uuid
       returning s.lot_id
     )
     insert into lot_change (group_id, lot_id, change_id, kind, detail, actor_id, recorded_at)
     select $1::uuid, t.lot_id, $5::uuid, 'use-by-earlier', jsonb_build_object('useByDate', $4::text, 'reason', $6::text),
            $7::uuid, to_timestamp($8::float8 / 1000)
       from tightened t`,
    [tx.groupId, change.lotId, change.endsAtMs, change.date, change.changeId, change.reason, change.actorId, nowMs],
  );
}
