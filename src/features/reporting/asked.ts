/**
 * What a question about months asks for. Refusals: `not-found` (a site), `rule-broken` (no site named by somebody of some sites, months the
 * wrong way round, a month not yet begun, a moment ahead of now), `period-too-long`.
 */
import { notFound, Refused } from '../../domain/errors.ts';
import { monthsFrom } from '../../domain/month/periods.ts';
import { fromInstant, localDate, monthBounds } from '../../domain/time.ts';
import type { Context } from '../../platform/http/contract.ts';
import { getCutAt, getCutNow, type Cut } from '../ledger/index.ts';
import type { Asked } from './month/index.ts';
import { listReportSites, type ReportSite } from './month/queries.ts';

const MOST_MONTHS = 12;

export interface MonthQuestion {
  readonly month: string;
  readonly throughMonth?: string | undefined;
  readonly site?: string | undefined;
  readonly siteId?: string | undefined;
  readonly recordedAt?: string | undefined;
  readonly restated?: 'true' | 'false' | undefined;
  /** seq and money number, as a link of a report has them */
  readonly cut?: string | undefined;
}

const broken = (where: string, parameter: string, detail: string): Refused =>
  new Refused('rule-broken', detail, { errors: [{ detail, pointer: `${where}/${parameter}` }] });

/** The sites asked for, by code, or null for the whole group; only those who may read everything may leave them out. */
export async function sitesAsked(
  { tx, scope }: Pick<Context, 'tx' | 'scope'>,
  query: Pick<MonthQuestion, 'site' | 'siteId'>,
  where = '#/query',
): Promise<ReportSite[] | null> {
  const names = [...(query.site?.split(',') ?? []), ...(query.siteId === undefined ? [] : [query.siteId])];
  if (names.length === 0) {
    if (scope.all) return null;
    throw broken(where, 'site', 'Name one or more of your sites; the whole group is for those who may read all of it.');
  }
  const sites = (await listReportSites(tx, null)).filter((site) => scope.includes(site.siteId));
  const found = names.map((name) => sites.find((site) => site.siteId === name || site.siteCode === name));
  if (found.includes(undefined)) throw notFound('site');
  return sites.filter((site) => found.includes(site));
}

/** What was known at a moment or at the cut of a report, or all that is known. */
export async function cutAsked(
  { tx, nowMs }: Pick<Context, 'tx' | 'nowMs'>,
  query: Pick<MonthQuestion, 'recordedAt' | 'cut'>,
): Promise<Cut> {
  if (query.recordedAt !== undefined) return getCutAt(tx, fromInstant(query.recordedAt), nowMs);
  const now = await getCutNow(tx);
  if (query.cut === undefined) return now;
  const [seq = 0, moneyNo = 0] = query.cut.split('-').map(Number);
  if (seq > now.seq || moneyNo > now.moneyNo)
    throw broken('#/query', 'cut', 'Nothing as late as that is recorded yet.');
  return { seq, moneyNo, recordedAtMs: 0 };
}

export interface AskedMonths extends Asked {
  readonly sites: readonly ReportSite[] | null;
}

/** @param where the part of the request that the fields stand in, as a JSON Pointer fragment */
export async function askedMonths(
  context: Pick<Context, 'tx' | 'scope' | 'nowMs'>,
  query: MonthQuestion,
  where = '#/query',
): Promise<AskedMonths> {
  const { tx, nowMs } = context;
  const { month, throughMonth = month } = query;
  const count = monthsFrom(month, throughMonth);
  if (count < 1) throw broken(where, 'throughMonth', `${throughMonth} is before ${month}.`);
  if (count > MOST_MONTHS) {
    const detail = `That is ${count} months; at most ${MOST_MONTHS} at a time.`;
    throw new Refused('period-too-long', detail, { errors: [{ detail, pointer: `${where}/throughMonth` }] });
  }
  const sites = await sitesAsked(context, query, where);
  const zones = (sites ?? (await listReportSites(tx, null))).map((site) => site.timeZone);
  const { from } = monthBounds(throughMonth);
  if (!zones.some((zone) => localDate(nowMs, zone) >= from))
    throw broken(where, 'month', `${throughMonth} has not begun.`);
  return {
    month,
    throughMonth,
    sites,
    siteIds: sites?.map((site) => site.siteId) ?? null,
    cut: await cutAsked(context, query),
    restated: query.restated === 'true',
  };
}
