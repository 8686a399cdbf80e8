/** SQL of the history of drills. */
import type { Share } from '../../../domain/recall/account.ts';
import type { Tx } from '../../../platform/db/db.ts';
import type { SiteScope } from '../../../platform/http/contract.ts';
import type { Page } from '../../../platform/http/paging.ts';

export interface DrillRow {
  readonly recallId: string;
  readonly code: string;
  readonly title: string;
  readonly holdId: string;
  readonly openedAt: Date;
  readonly closedAt: Date | null;
  readonly scopeMs: number;
  readonly lotCount: number;
  /** as they were said, with the code of a lot that each names */
  readonly starts: readonly Readonly<Record<string, unknown>>[];
  /** of the closing; null while it is open */
  readonly figures: { readonly answeredShare: Share; readonly accountedShare: Share } | null;
}

/** Newest first, one more than the page holds. */
export async function listDrills(tx: Tx, scope: SiteScope, page: Page): Promise<DrillRow[]> {
  return tx.query<DrillRow>(
    `select r.recall_id as "recallId", r.code, r.title, r.hold_id as "holdId", r.opened_at as "openedAt",
            case when t.kind = 'closed' then t.turned_at end as "closedAt", r.scope_ms as "scopeMs",
            case when t.kind = 'closed' then (t.figures ->> 'lotCount')::int
                 else (select count(*)::int from hold_reach hr where hr.group_id = r.group_id and hr.hold_id = r.hold_id)
                 end as "lotCount",
            coalesce((select json_agg(s.said || jsonb_build_object('firstLotCode', (
                select min(l.code) from recall_start_lot sl join lot l on l.group_id = sl.group_id and l.lot_id = sl.lot_id
                 where sl.group_id = s.group_id and sl.start_id = s.start_id)) order by s.position) from recall_start s
              where s.group_id = r.group_id and s.recall_id = r.recall_id), '[]'::json) as starts,
            case when t.kind = 'closed' then t.figures end as figures
       from recall r
       left join lateral (select rt.kind, rt.turned_at, rt.figures from recall_turn rt
         where rt.group_id = r.group_id and rt.recall_id = r.recall_id order by rt.turn_no desc limit 1) t on true
      where r.group_id = $1::uuid and r.drill
        and ($2::boolean or exists (select from recall_notice n
              where n.group_id = r.group_id and n.recall_id = r.recall_id and n.site_id = any($3::uuid[])))
        and ($4::text is null or (r.opened_at, r.recall_id) < ($4::timestamptz, $5::uuid))
      order by r.opened_at desc, r.recall_id desc limit $6::int`,
    [tx.groupId, scope.all, scope.siteIds, page.after?.[0] ?? null, page.after?.[1] ?? null, page.limit + 1],
  );
}

export interface FirstAcknowledgementRow {
  readonly recallId: string;
  readonly siteId: string;
  readonly siteName: string;
  readonly acknowledgedAt: Date | null;
}

/** Every site that was told, with its first acknowledgement. */
export async function listFirstAcknowledgements(
  tx: Tx,
  recallIds: readonly string[],
): Promise<FirstAcknowledgementRow[]> {
  return tx.query<FirstAcknowledgementRow>(
    `select n.recall_id as "recallId", n.site_id as "siteId", s.name as "siteName", min(a.acknowledged_at) as "acknowledgedAt"
       from recall_notice n
       join site s on s.group_id = n.group_id and s.site_id = n.site_id
       left join recall_acknowledgement a on a.group_id = n.group_id and a.notice_id = n.notice_id
      where n.group_id = $1::uuid and n.recall_id = any($2::uuid[])
      group by n.recall_id, n.site_id, s.name
      order by s.name, n.site_id`,
    [tx.groupId, recallIds],
  );
}
