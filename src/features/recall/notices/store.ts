/** SQL on notices and their acknowledgements. */
import type { NoticeLot } from '../../../domain/recall/notice.ts';
import type { Tx } from '../../../platform/db/db.ts';
import type { SiteScope } from '../../../platform/http/contract.ts';
import type { Page } from '../../../platform/http/paging.ts';

/** The most lots that one notice lists; it says how many more there are. */
const LISTED = 500;

export interface DueSite {
  readonly siteId: string;
  readonly siteName: string;
  readonly timeZone: string;
  readonly noticeNo: number;
  readonly lotCount: number;
  readonly awaitsAnswer: boolean;
  readonly lots: readonly NoticeLot[];
}

/**
 * Sites that have or had any of the scope, or are about to, and were not told of all of it. A balance is never deleted, so what a site
 * has or had only grows: a site is due when it is more than its newest notice says.
 * @param again all sites, told or not
 */
export async function listDueSites(tx: Tx, recallId: string, holdId: string, again: boolean): Promise<DueSite[]> {
  return tx.query<DueSite>(
    `with x as materialized (
       select a.account_id, case when a.kind like 'transit%' then a.to_site_id else a.site_id end as site_id, a.kind, a.twin_of
         from account a where a.group_id = $1::uuid and a.kind not in ('supplier', 'produced', 'consumed')
     ), part as materialized (
       select x.site_id, b.lot_id,
              coalesce(sum(b.quantity) filter (where x.kind like 'place%'), 0)::int8 as on_hand,
              coalesce(sum(b.quantity) filter (where x.kind like 'transit%'), 0)::int8 as in_transit,
              coalesce(sum(b.quantity) filter (where x.kind = 'served'), 0)::int8 as served,
              coalesce(sum(b.quantity) filter (where x.kind = 'variance'), 0)::int8 as missing
         from hold_reach hr
         join balance b on b.group_id = hr.group_id and b.lot_id = hr.lot_id
         join x on x.account_id = b.account_id
        where hr.group_id = $1::uuid and hr.hold_id = $2::uuid
        group by x.site_id, b.lot_id
     ), told as (
       select distinct on (n.site_id) n.site_id, n.notice_no, n.lot_count
         from recall_notice n where n.group_id = $1::uuid and n.recall_id = $3::uuid
        order by n.site_id, n.notice_no desc
     ), due as materialized (
       select p.site_id, count(*)::int as lot_count, coalesce(t.notice_no, 0) + 1 as notice_no,
              bool_or(p.on_hand > 0 or p.in_transit > 0 or p.missing > 0) as awaits_answer
         from part p left join told t on t.site_id = p.site_id
        group by p.site_id, t.notice_no, t.lot_count
       having $4::boolean or count(*) > coalesce(t.lot_count, 0)
     ), top as materialized (
       select p.*, row_number() over (partition by p.site_id
                order by (p.on_hand > 0 or p.in_transit > 0) desc, p.served > 0 desc, p.lot_id) as rank
         from part p join due d on d.site_id = p.site_id
     ), line as materialized (
       select t.site_id, json_agg(json_build_object('lotId', t.lot_id, 'lotCode', l.code, 'itemName', i.name, 'supplierLotCode', l.supplier_lot_code, 'unit', l.unit,
                'useByDate', ls.use_by_date, 'onHand', t.on_hand, 'inTransit', t.in_transit, 'served', t.served,
                'places', coalesce(pl.names, '[]'::json)) order by t.rank) as lots
         from top t
         join lot l on l.group_id = $1::uuid and l.lot_id = t.lot_id
         join item i on i.group_id = l.group_id and i.item_id = l.item_id
         left join lot_state ls on ls.group_id = l.group_id and ls.lot_id = l.lot_id
         left join lateral (
           select json_agg(p.name order by p.name) as names
             from balance b join place p on p.group_id = b.group_id and p.place_id = b.account_id
            where t.on_hand > 0 and b.group_id = $1::uuid and b.lot_id = t.lot_id and b.quantity > 0
              and p.site_id = t.site_id) pl on true
        where t.rank <= ${LISTED}
        group by t.site_id
     )
     select d.site_id as "siteId", s.name as "siteName", s.time_zone as "timeZone", d.notice_no as "noticeNo",
            d.lot_count as "lotCount", d.awaits_answer as "awaitsAnswer", line.lots
       from due d
       join line on line.site_id = d.site_id
       join site s on s.group_id = $1::uuid and s.site_id = d.site_id
      order by s.name, d.site_id`,
    [tx.groupId, holdId, recallId, again],
  );
}

export interface NoticeDraft {
  readonly noticeId: string;
  readonly siteId: string;
  readonly noticeNo: number;
  readonly lotCount: number;
  readonly lots: readonly NoticeLot[];
  readonly awaitsAnswer: boolean;
  readonly bodyText: string;
}

/** Who else has told a site meanwhile has told it: that notice stands. Returns the ids of those that are new. */
export async function insertNotices(
  tx: Tx,
  recallId: string,
  drafts: readonly NoticeDraft[],
  sentBy: string,
  nowMs: number,
): Promise<string[]> {
  const rows = await tx.query<{ noticeId: string }>(
    `insert into recall_notice (group_id, notice_id, recall_id, site_id, notice_no, lot_count, lots, awaits_answer, body_text, sent_at,
            sent_by)
     select $1::uuid, r."noticeId", $2::uuid, r."siteId", r."noticeNo", r."lotCount", r.lots, r."awaitsAnswer", r."bodyText",
            to_timestamp($5::float8 / 1000), $4::uuid
       from jsonb_to_recordset($3::jsonb) as r("noticeId" uuid, "siteId" uuid, "noticeNo" int, "lotCount" int, lots jsonb,
            "awaitsAnswer" boolean, "bodyText" text)
     on conflict do nothing
     returning notice_id as "noticeId"`,
    [tx.groupId, recallId, JSON.stringify(drafts), sentBy, nowMs],
  );
  return rows.map((row) => row.noticeId);
}

export interface NoticeRow {
  readonly noticeId: string;
  readonly recallId: string;
  readonly recallCode: string;
  readonly drill: boolean;
  readonly title: string;
  readonly siteId: string;
  readonly siteName: string;
  readonly timeZone: string;
  readonly noticeNo: number;
  readonly sentAt: Date;
  readonly text: string;
  readonly lotCount: number;
  readonly lots: readonly NoticeLot[];
  readonly acknowledgedAt: Date | null;
  readonly acknowledgedBy: string | null;
  /** the site has signed an answer since */
  readonly answered: boolean;
  readonly closed: boolean;
}

const COLUMNS = `n.notice_id as "noticeId", n.recall_id as "recallId", r.code as "recallCode", r.drill, r.title, n.site_id as "siteId",
  s.name as "siteName", s.time_zone as "timeZone", n.notice_no as "noticeNo", n.sent_at as "sentAt", n.body_text as text,
  n.lot_count as "lotCount", n.lots, a.acknowledged_at as "acknowledgedAt", a.name as "acknowledgedBy", an.answered,
  exists (select from recall_turn t where t.group_id = n.group_id and t.recall_id = n.recall_id and t.kind = 'closed'
    and not exists (select from recall_turn o where o.group_id = t.group_id and o.recall_id = t.recall_id and o.turn_no > t.turn_no))
    as closed`;
const FROM = `recall_notice n
  join recall r on r.group_id = n.group_id and r.recall_id = n.recall_id
  join site s on s.group_id = n.group_id and s.site_id = n.site_id
  left join recall_acknowledgement a on a.group_id = n.group_id and a.notice_id = n.notice_id
  cross join lateral (select exists (select from recall_response p
    where p.group_id = n.group_id and p.recall_id = n.recall_id and p.site_id = n.site_id and p.recorded_at >= n.sent_at) as answered) an`;

export async function findNotice(tx: Tx, scope: SiteScope, noticeId: string): Promise<NoticeRow | null> {
  const rows = await tx.query<NoticeRow>(
    `select ${COLUMNS} from ${FROM}
      where n.group_id = $1::uuid and n.notice_id = $2::uuid and ($3::boolean or n.site_id = any($4::uuid[]))`,
    [tx.groupId, noticeId, scope.all, scope.siteIds],
  );
  return rows[0] ?? null;
}

export interface NoticeFilter {
  readonly siteId: string | null;
  readonly recallId: string | null;
  readonly unanswered: boolean | null;
}

/** Newest first, one more than the page holds. */
export async function listNotices(tx: Tx, scope: SiteScope, filter: NoticeFilter, page: Page): Promise<NoticeRow[]> {
  return tx.query<NoticeRow>(
    `select ${COLUMNS} from ${FROM}
      where n.group_id = $1::uuid and ($2::boolean or n.site_id = any($3::uuid[]))
        and ($4::uuid is null or n.site_id = $4::uuid) and ($5::uuid is null or n.recall_id = $5::uuid)
        and ($6::boolean is null or an.answered <> $6::boolean)
        and ($7::text is null or (n.sent_at, n.notice_id) < ($7::timestamptz, $8::uuid))
      order by n.sent_at desc, n.notice_id desc limit $9::int`,
    [
      tx.groupId,
      scope.all,
      scope.siteIds,
      filter.siteId,
      filter.recallId,
      filter.unanswered,
      page.after?.[0] ?? null,
      page.after?.[1] ?? null,
      page.limit + 1,
    ],
  );
}

export interface AcknowledgementRow {
  readonly acknowledgementId: string;
  readonly noticeId: string;
  readonly acknowledgedAtMs: number;
  readonly recordedBy: string;
  readonly name: string;
  readonly note: string | null;
}

/** False when the notice was acknowledged before. */
export async function insertAcknowledgement(tx: Tx, row: AcknowledgementRow, nowMs: number): Promise<boolean> {
  const rows = await tx.query<{ noticeId: string }>(
    `insert into recall_acknowledgement (group_id, notice_id, acknowledgement_id, acknowledged_at, recorded_at, recorded_by, name, note)
     values ($1::uuid, $2::uuid, $3::uuid, to_timestamp($4::float8 / 1000), to_timestamp($5::float8 / 1000), $6::uuid, $7::text, $8::text)
     on conflict (group_id, notice_id) do nothing
     returning notice_id as "noticeId"`,
    [tx.groupId, row.noticeId, row.acknowledgementId, row.acknowledgedAtMs, nowMs, row.recordedBy, row.name, row.note],
  );
  return rows.length > 0;
}
