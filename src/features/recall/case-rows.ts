/**
 * The row of a case and who may see it: whoever may act at every site, and those at a site that was told. Refusals: `not-found`,
 * `wrong-state`, `rule-broken` (for those who may act at every site).
 */
import { notFound, Refused } from '../../domain/errors.ts';
import type { Tx } from '../../platform/db/db.ts';
import type { Context, SiteScope } from '../../platform/http/contract.ts';

export interface CaseRow {
  readonly recallId: string;
  readonly code: string;
  readonly drill: boolean;
  readonly title: string;
  readonly holdId: string;
  readonly openedAt: Date;
  readonly openedBy: string;
  readonly state: 'open' | 'closed';
  /** how often it was closed or opened again */
  readonly turnNo: number;
}

const COLUMNS = `r.recall_id as "recallId", r.code, r.drill, r.title, r.hold_id as "holdId", r.opened_at as "openedAt",
  r.opened_by as "openedBy", case when t.kind = 'closed' then 'closed' else 'open' end as state, coalesce(t.turn_no, 0) as "turnNo"`;
const FROM = `recall r
  left join lateral (select rt.kind, rt.turn_no from recall_turn rt
    where rt.group_id = r.group_id and rt.recall_id = r.recall_id order by rt.turn_no desc limit 1) t on true`;

/** Null when there is none, or when it has reached none of the sites. */
export async function findCase(tx: Tx, recallId: string, scope: SiteScope): Promise<CaseRow | null> {
  const rows = await tx.query<CaseRow>(
    `select ${COLUMNS} from ${FROM}
      where r.group_id = $1::uuid and r.recall_id = $2::uuid
        and ($3::boolean or exists (select from recall_notice n
              where n.group_id = r.group_id and n.recall_id = r.recall_id and n.site_id = any($4::uuid[])))`,
    [tx.groupId, recallId, scope.all, scope.siteIds],
  );
  return rows[0] ?? null;
}

export async function getCase(context: Pick<Context, 'tx' | 'scope'>, recallId: string): Promise<CaseRow> {
  const found = await findCase(context.tx, recallId, context.scope);
  if (!found) throw notFound('case');
  return found;
}

/** Cases that are open, oldest first. */
export async function listOpenCases(tx: Tx): Promise<CaseRow[]> {
  return tx.query<CaseRow>(
    `select ${COLUMNS} from ${FROM}
      where r.group_id = $1::uuid and t.kind is distinct from 'closed'
      order by r.opened_at, r.recall_id`,
    [tx.groupId],
  );
}

/** What concerns the whole case is for those who may act everywhere. */
export function requireEverySite(scope: SiteScope): void {
  if (!scope.all) throw new Refused('rule-broken', 'This is for those who may act at every site.');
}

export function requireOpen(found: CaseRow): void {
  if (found.state === 'closed')
    throw new Refused('wrong-state', `Case ${found.code} is closed. Open it again first, if there is more to say.`);
}
