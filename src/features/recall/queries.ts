/** SQL of reading cases: the case, its starting points, where its food is. */
import type { SaidStart } from '../../domain/recall/starts.ts';
import type { SiteScope } from '../../platform/http/contract.ts';
import type { Page } from '../../platform/http/paging.ts';
import type { Tx } from '../../platform/db/db.ts';

export interface RecallRow {
  readonly recallId: string;
  readonly code: string;
  readonly drill: boolean;
  readonly title: string;
  readonly holdId: string;
  readonly openedAt: Date;
  readonly openedSeq: number;
  readonly openedBy: string;
  readonly scopeMs: number;
  readonly drawnWith: string | null;
  readonly state: 'open' | 'closed';
  readonly lotCount: number;
}

const COLUMNS = `r.recall_id as "recallId", r.code, r.drill, r.title, r.hold_id as "holdId", r.opened_at as "openedAt",
  r.opened_seq as "openedSeq", r.opened_by as "openedBy", r.scope_ms as "scopeMs", r.drawn_with as "drawnWith",
  case (select t.kind from recall_turn t where t.group_id = r.group_id and t.recall_id = r.recall_id
         order by t.turn_no desc limit 1) when 'closed' then 'closed' else 'open' end as state,
  (select count(*)::int from hold_reach hr where hr.group_id = r.group_id and hr.hold_id = r.hold_id) as "lotCount"`;

/** A case is visible to those who act everywhere, and at the sites that any of its lots was born at, is, was or is on the way to. */
const VISIBLE = `($2::boolean or exists (
  select from hold_reach vr
    join lot vl on vl.group_id = vr.group_id and vl.lot_id = vr.lot_id
   where vr.group_id = r.group_id and vr.hold_id = r.hold_id
     and (vl.site_id = any($3::uuid[]) or exists (
       select from balance vb join account va on va.group_id = vb.group_id and va.account_id = vb.account_id
        where vb.group_id = vr.group_id and vb.lot_id = vr.lot_id
          and (va.site_id = any($3::uuid[]) or va.to_site_id = any($3::uuid[]))))))`;

export async function findRecall(tx: Tx, scope: SiteScope, recallId: string): Promise<RecallRow | null> {
  const rows = await tx.query<RecallRow>(
    `select ${COLUMNS} from recall r where r.group_id = $1::uuid and ${VISIBLE} and r.recall_id = $4::uuid`,
    [tx.groupId, scope.all, scope.siteIds, recallId],
  );
  return rows[0] ?? null;
}

/** Newest first. The key of a page: when it was opened, and its id. */
export async function listRecallRows(
  tx: Tx,
  scope: SiteScope,
  filter: { readonly state: string | null; readonly drill: boolean | null },
  page: Page,
): Promise<RecallRow[]> {
  return tx.query<RecallRow>(
    `select * from (select ${COLUMNS} from recall r where r.group_id = $1::uuid and ${VISIBLE}
        and ($4::boolean is null or r.drill = $4::boolean)
        and ($5::timestamptz is null or (r.opened_at, r.recall_id) < ($5::timestamptz, $6::uuid))) one
      where $7::text is null or one.state = $7::text
      order by one."openedAt" desc, one."recallId" desc
      limit $8::int`,
    [
      tx.groupId,
      scope.all,
      scope.siteIds,
      filter.drill,
      page.after?.[0] ?? null,
      page.after?.[1] ?? null,
      filter.state,
      page.limit + 1,
    ],
  );
}

export interface StartRow {
  readonly startId: string;
  readonly position: number;
  readonly kind: string;
  readonly said: SaidStart;
  readonly addedAt: Date;
  readonly lotCount: number;
}

export async function listStarts(tx: Tx, recallId: string): Promise<StartRow[]> {
  return tx.query<StartRow>(
    `select s.start_id as "startId", s.position, s.kind, s.said, s.added_at as "addedAt",
            (select count(*)::int from recall_start_lot sl where sl.group_id = s.group_id and sl.start_id = s.start_id) as "lotCount"
       from recall_start s
      where s.group_id = $1::uuid and s.recall_id = $2::uuid
      order by s.position`,
    [tx.groupId, recallId],
  );
}

export interface LotBriefRow {
  readonly lotId: string;
  readonly lotCode: string;
  readonly itemId: string;
  readonly itemName: string;
  readonly unit: 'mg' | 'g' | 'ml' | 'piece';
  readonly siteId: string;
  readonly siteName: string;
  readonly bornAt: Date;
  readonly origin: 'supplied' | 'produced' | 'packed' | 'pseudo' | 'converted' | 'opening';
  readonly supplierName: string | null;
  readonly supplierLotCode: string | null;
}

export const LOT_BRIEF = `l.lot_id as "lotId", l.code as "lotCode", l.item_id as "itemId", i.name as "itemName", l.unit,
  l.site_id as "siteId", si.name as "siteName", l.born_at as "bornAt", l.origin,
  coalesce(su.name, l.shop_name) as "supplierName", l.supplier_lot_code as "supplierLotCode"`;

export const LOT_BRIEF_JOINS = `join item i on i.group_id = l.group_id and i.item_id = l.item_id
  join site si on si.group_id = l.group_id and si.site_id = l.site_id
  left join supplier su on su.group_id = l.group_id and su.supplier_id = l.supplier_id`;

export async function listLotBriefs(tx: Tx, lotIds: readonly string[]): Promise<LotBriefRow[]> {
  return tx.query<LotBriefRow>(
    `select ${LOT_BRIEF} from lot l ${LOT_BRIEF_JOINS}
      where l.group_id = $1::uuid and l.lot_id = any($2::uuid[])
      order by l.born_at, l.lot_id`,
    [tx.groupId, lotIds],
  );
}

export async function findLotBriefs(tx: Tx, lotIds: readonly string[]): Promise<Map<string, LotBriefRow>> {
  return new Map((await listLotBriefs(tx, lotIds)).map((row) => [row.lotId, row]));
}

/** Forward from the lots in $2. What nothing was made from is not looked up; a start can also be reached by walking, and is there twice then. */
const WALK = `walk (lot_id, leads_on) as (
       select u.lot_id, true from unnest($2::uuid[]) as u(lot_id)
       union
       select le.child_lot_id, le.child_leads_on
         from walk w join lot_edge le on le.group_id = $1::uuid and le.parent_lot_id = w.lot_id
        where w.leads_on
     )`;

/** How many lots are made from these, themselves included, each once; counting stops at `limit`. */
export async function countForward(tx: Tx, lotIds: readonly string[], limit: number): Promise<number> {
  const rows = await tx.query<{ count: number }>(
    `with recursive ${WALK}
     select count(distinct w.lot_id)::int as count from (select w.lot_id from walk w limit $3::int) w`,
    [tx.groupId, lotIds, limit],
  );
  return rows[0]?.count ?? 0;
}

/** Everything made from these lots, themselves included, each once; no more than `limit` of them. */
export async function walkForward(tx: Tx, lotIds: readonly string[], limit: number): Promise<string[]> {
  const rows = await tx.query<{ lotId: string }>(
    `with recursive ${WALK}
     select distinct w.lot_id as "lotId" from (select w.lot_id from walk w limit $3::int) w`,
    [tx.groupId, lotIds, limit],
  );
  return rows.map((row) => row.lotId);
}
