/** SQL of lots: birth, look-up, what is in force, edges and what spreads along them. */
import { Refused } from '../../domain/errors.ts';
import type { SiteScope } from '../../platform/http/contract.ts';
import type { Tx } from '../../platform/db/db.ts';

export interface LotRow {
  readonly lotId: string;
  readonly code: string;
  readonly itemId: string;
  readonly itemCode: string;
  readonly itemName: string;
  readonly itemKind: string;
  readonly lotTracked: boolean;
  readonly unit: 'mg' | 'g' | 'ml' | 'piece';
  readonly quantity: number;
  readonly massMg: number;
  readonly origin: 'supplied' | 'produced' | 'packed' | 'pseudo';
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
  readonly goodsReceiptId: string | null;
  readonly batchId: string | null;
  readonly loadNo: number | null;
  readonly packingRunId: string | null;
}

export const LOT_COLUMNS = `l.lot_id as "lotId", l.code, l.item_id as "itemId", i.code as "itemCode", i.name as "itemName",
  i.kind as "itemKind", i.lot_tracked as "lotTracked", l.unit, l.quantity, l.mass_mg as "massMg", l.origin,
  l.site_id as "siteId", si.time_zone as "siteTimeZone", l.serialised, l.born_at as "bornAt", l.handling,
  l.storage_instruction as "storageInstruction", l.printed_use_by_at as "printedUseByAt",
  l.printed_use_by_date as "printedUseByDate",
  case when s.use_by_at = 'infinity' then null else (extract(epoch from s.use_by_at) * 1000)::int8 end as "useByAtMs",
  s.use_by_date as "useByDate", l.use_by_basis as "useByBasis", l.anchors, s.allergens, s.may_contain as "mayContain",
  l.supplier_id as "supplierId", l.supplier_lot_code as "supplierLotCode", l.goods_receipt_id as "goodsReceiptId",
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
  readonly origin: 'supplied' | 'produced' | 'packed' | 'pseudo';
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
  readonly goodsReceiptId?: string;
  readonly batchId?: string;
  readonly loadNo?: number;
  readonly packingRunId?: string;
}

export async function insertLots(tx: Tx, lots: readonly LotDraft[]): Promise<void> {
  const rows = lots.map((lot) => ({
    ...lot,
    useByAtMs: lot.useBy?.endsAtMs ?? null,
    useByDate: lot.useBy?.date ?? null,
  }));
  await tx.query(
    `insert into lot (group_id, lot_id, code, item_id, unit, quantity, mass_mg, origin, site_id, serialised, born_at, handling,
            storage_instruction, printed_use_by_at, printed_use_by_date, use_by_basis, anchors, allergens, may_contain,
            supplier_id, supplier_lot_code, goods_receipt_id, batch_id, load_no, packing_run_id)
     select $1::uuid, r."lotId", r.code, r."itemId", r.unit, r.quantity, r."massMg", r.origin, r."siteId", r.serialised,
            to_timestamp(r."bornAtMs" / 1000.0), r.handling, r."storageInstruction", to_timestamp(r."useByAtMs" / 1000.0),
            r."useByDate", coalesce(r."useByBasis", 'null'), r.anchors, r.allergens, r."mayContain", r."supplierId",
            r."supplierLotCode", r."goodsReceiptId", r."batchId", r."loadNo", r."packingRunId"
       from jsonb_to_recordset($2::jsonb) as r("lotId" uuid, code text, "itemId" uuid, unit text, quantity int8, "massMg" int8,
            origin text, "siteId" uuid, serialised boolean, "bornAtMs" numeric, handling text, "storageInstruction" text,
            "useByAtMs" numeric, "useByDate" date, "useByBasis" jsonb, anchors jsonb, allergens text[], "mayContain" text[],
            "supplierId" uuid, "supplierLotCode" text, "goodsReceiptId" uuid, "batchId" uuid, "loadNo" int,
            "packingRunId" uuid)`,
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
}

/** Lot ids and codes are names for ever: one that exists is refused (`code-taken`) before anything is written. */
export async function requireFreeLots(tx: Tx, lots: readonly Pick<LotDraft, 'lotId' | 'code'>[]): Promise<void> {
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

export interface EdgeDraft {
  readonly parentLotId: string;
  readonly childLotId: string;
  readonly processId: string;
  readonly capsUseBy: boolean;
}

const EDGE_ROWS = `jsonb_to_recordset($2::jsonb)
  as n("parentLotId" uuid, "childLotId" uuid, "processId" uuid, "capsUseBy" boolean)`;

/** Adds edges and copies every open propagating hold of a parent, with its cause, to every descendant. */
export async function addEdges(tx: Tx, edges: readonly EdgeDraft[], nowMs: number): Promise<void> {
  if (edges.length === 0) return;
  const json = JSON.stringify(edges);
  await tx.query(
    `insert into lot_edge (group_id, parent_lot_id, child_lot_id, process_id, caps_use_by)
     select $1::uuid, n."parentLotId", n."childLotId", n."processId", n."capsUseBy" from ${EDGE_ROWS}
     on conflict (group_id, parent_lot_id, child_lot_id, process_id) do nothing`,
    [tx.groupId, json],
  );
  await tx.query(
    `with recursive reach (lot_id, hold_id, cause_lot_id) as (
       select n."childLotId", hr.hold_id, n."parentLotId"
         from ${EDGE_ROWS}
         join hold_reach hr on hr.group_id = $1::uuid and hr.lot_id = n."parentLotId"
         join hold h on h.group_id = hr.group_id and h.hold_id = hr.hold_id and h.propagates and h.lifted_at is null
       union
       select le.child_lot_id, r.hold_id, le.parent_lot_id
         from reach r
         join lot_edge le on le.group_id = $1::uuid and le.parent_lot_id = r.lot_id
     )
     insert into hold_reach (group_id, hold_id, lot_id, cause_lot_id, reached_at)
     select distinct on (r.hold_id, r.lot_id) $1::uuid, r.hold_id, r.lot_id, r.cause_lot_id, to_timestamp($3::float8 / 1000)
       from reach r
      order by r.hold_id, r.lot_id, r.cause_lot_id
     on conflict (group_id, hold_id, lot_id) do nothing`,
    [tx.groupId, json, nowMs],
  );
}

/** A late input tightens the use-by of what was made from it already, and of all that came of that. */
export async function spreadUseBy(tx: Tx, edges: readonly EdgeDraft[], actorId: string, nowMs: number): Promise<void> {
  await tx.query(
    `with recursive cap (lot_id, use_by_at, use_by_date, cause_lot_id) as (
       select n."childLotId", s.use_by_at, s.use_by_date, n."parentLotId"
         from ${EDGE_ROWS}
         join lot_state s on s.group_id = $1::uuid and s.lot_id = n."parentLotId"
        where n."capsUseBy" and s.use_by_at < 'infinity'
       union
       select le.child_lot_id, c.use_by_at, c.use_by_date, c.cause_lot_id
         from cap c
         join lot_edge le on le.group_id = $1::uuid and le.parent_lot_id = c.lot_id and le.caps_use_by
     ), earliest as (
       select distinct on (c.lot_id) c.lot_id, c.use_by_at, c.use_by_date, c.cause_lot_id
         from cap c order by c.lot_id, c.use_by_at, c.cause_lot_id
     ), tightened as (
       update lot_state s set use_by_at = e.use_by_at, use_by_date = e.use_by_date
         from earliest e
        where s.group_id = $1::uuid and s.lot_id = e.lot_id and e.use_by_at < s.use_by_at
       returning s.lot_id, s.use_by_at, s.use_by_date, e.cause_lot_id
     )
     insert into lot_change (group_id, lot_id, change_id, kind, detail, cause_lot_id, actor_id, recorded_at)
     select $1::uuid, t.lot_id, gen_random_uuid(), 'use-by-earlier',
            jsonb_build_object('useByAt', t.use_by_at, 'useByDate', t.use_by_date), t.cause_lot_id, $3::uuid,
            to_timestamp($4::float8 / 1000)
       from tightened t`,
    [tx.groupId, JSON.stringify(edges), actorId, nowMs],
  );
}

/** A late input's allergens reach what was made from it already; they only ever grow. */
export async function spreadAllergens(
  tx: Tx,
  edges: readonly EdgeDraft[],
  actorId: string,
  nowMs: number,
): Promise<void> {
  await tx.query(
    `with recursive reach (lot_id, cause_lot_id) as (
       select n."childLotId", n."parentLotId" from ${EDGE_ROWS}
       union
       select le.child_lot_id, r.cause_lot_id
         from reach r join lot_edge le on le.group_id = $1::uuid and le.parent_lot_id = r.lot_id
     ), added as (
       select r.lot_id, min(r.cause_lot_id::text)::uuid as cause_lot_id,
              array_agg(distinct a.code) filter (where a.code is not null and a.code <> all (s.allergens)) as allergens,
              array_agg(distinct m.code) filter (where m.code is not null and m.code <> all (s.may_contain)) as may_contain
         from reach r
         join lot_state s on s.group_id = $1::uuid and s.lot_id = r.lot_id
         join lot_state p on p.group_id = $1::uuid and p.lot_id = r.cause_lot_id
         left join lateral unnest(p.allergens) as a(code) on true
         left join lateral unnest(p.may_contain) as m(code) on true
        group by r.lot_id
     ), grown as (
       update lot_state s
          set allergens = s.allergens || coalesce(d.allergens, '{}'),
              may_contain = s.may_contain || coalesce(d.may_contain, '{}')
         from added d
        where s.group_id = $1::uuid and s.lot_id = d.lot_id and (d.allergens is not null or d.may_contain is not null)
       returning s.lot_id, d.allergens, d.may_contain, d.cause_lot_id
     )
     insert into lot_change (group_id, lot_id, change_id, kind, detail, cause_lot_id, actor_id, recorded_at)
     select $1::uuid, g.lot_id, gen_random_uuid(), 'allergens-added',
            jsonb_build_object('allergens', coalesce(g.allergens, '{}'), 'mayContain', coalesce(g.may_contain, '{}')),
            g.cause_lot_id, $3::uuid, to_timestamp($4::float8 / 1000)
       from grown g`,
    [tx.groupId, JSON.stringify(edges), actorId, nowMs],
  );
}

/** True when `ancestorId` is one of the lot's ancestors, or the lot itself. */
export async function descendsFromAny(tx: Tx, lotId: string, ancestorIds: readonly string[]): Promise<boolean> {
  const rows = await tx.query<{ found: boolean }>(
    `with recursive up (lot_id) as (
       select $2::uuid
       union
       select le.parent_lot_id from up join lot_edge le on le.group_id = $1::uuid and le.child_lot_id = up.lot_id
     )
     select exists (select from up where up.lot_id = any($3::uuid[])) as found`,
    [tx.groupId, lotId, ancestorIds],
  );
  return rows[0]?.found ?? false;
}
