/** How much to make of an item for a day. Refusals: `not-found`, `invalid-request`, `rule-broken`, `history-too-short`. */
import { DateTime } from 'luxon';
import { notFound, Refused } from '../../../domain/errors.ts';
import { chooseDays, type RanOutWhy, type SiteDay } from '../../../domain/making/history.ts';
import { fromInstant, isCalendarDate, localDate } from '../../../domain/time.ts';
import type { Context, Reply } from '../../../platform/http/contract.ts';
import { findItems, findSites } from '../../catalogue/index.ts';
import { getCurrency } from '../../identity/index.ts';
import { getCutAt, getCutNow } from '../../ledger/index.ts';
import { minorDigitsOf } from '../costs/index.ts';
import { answerOf, unitsOf } from './answer.ts';
import type { getHowMuchToMake } from './contract.ts';
import { drawHowMuch } from './picture.ts';
import { weigh } from './prices.ts';
import { listAsked, listSiteDays, type AskedRow, type SiteDayRow } from './queries.ts';
import { findRunOutCost } from './store.ts';
import { unitCostOf } from './waste-cost.ts';

const WEEKS = 12;

export async function readHowMuch(context: Context<typeof getHowMuchToMake>): Promise<Reply> {
  const { tx, query, scope, nowMs } = context;
  const { siteId, itemId, date } = query;
  if (!isCalendarDate(date)) throw wrongDate(date);
  const site = (await findSites(tx, [siteId])).get(siteId);
  if (!site || !scope.includes(siteId)) throw notFound('site');
  const item = (await findItems(tx, [itemId])).get(itemId);
  if (!item) throw notFound('item');
  const recordedAtMs = query.recordedAt === undefined ? null : fromInstant(query.recordedAt);
  const cut = recordedAtMs === null ? await getCutNow(tx) : await getCutAt(tx, recordedAtMs, nowMs);
  const recordedByMs = recordedAtMs ?? nowMs;

  const weeks = Number(query.weeks ?? WEEKS);
  const today = localDate(recordedByMs, site.timeZone);
  // A day that is not over may still sell more.
  const throughDate = addDays(date < today ? date : today, -1);
  const fromDate = addDays(throughDate, 1 - 7 * weeks);
  const central = site.kind === 'central-kitchen';
  const span = { itemId, siteId: central ? null : siteId, from: fromDate, to: throughDate, recordedByMs };
  const moved = await listSiteDays(tx, { ...span, seq: cut.seq });
  const asked = await listAsked(tx, span);
  const forDate = await listAsked(tx, { ...span, from: date, to: date });
  const stated = await findRunOutCost(tx, siteId, itemId, recordedByMs);

  const chosen = chooseDays(siteDays(moved, asked), date);
  const unitCost =
    query.wasteCostMinor === undefined
      ? await unitCostOf(tx, cut, { ...span, seq: cut.seq })
      : { perUnit: null, text: '' };
  const weighed = weigh(query, stated, unitCost);
  const facts = {
    itemId,
    code: item.code,
    name: item.name,
    unit: item.unit,
    portionsPerUnit: item.portionsPerUnit,
  };
  const portions = forDate.length === 0 ? null : forDate.reduce((sum, row) => sum + row.portions, 0);
  const currency = await getCurrency(tx);
  const answer = answerOf(
    {
      site: { siteId, name: site.name },
      item: facts,
      date,
      recordedAt: recordedAtMs === null ? null : new Date(recordedAtMs).toISOString(),
      fromDate,
      throughDate,
      weeks,
      packQuantity: Number(query.packQuantity ?? 1),
      requiredForDate: unitsOf(portions, facts),
      currency,
      minorDigits: minorDigitsOf(currency),
    },
    chosen,
    weighed,
  );
  const wanted = context.accept(['application/json', 'image/svg+xml']) === 'image/svg+xml' ? 'svg' : 'json';
  if ((query.format ?? wanted) === 'json') return { status: 200, body: answer };
  return { status: 200, raw: { contentType: 'image/svg+xml; charset=utf-8', data: drawHowMuch(answer) } };
}

function wrongDate(date: string): Refused {
  const detail = `${date} is not a day of this century.`;
  return new Refused('invalid-request', detail, { errors: [{ detail, pointer: '#/query/date' }] });
}

const addDays = (date: string, days: number): string =>
  DateTime.fromISO(date, { zone: 'utc' }).plus({ days }).toFormat('yyyy-MM-dd');

/** What moved and what was required, put together by site and day. */
function siteDays(moved: readonly SiteDayRow[], asked: readonly AskedRow[]): SiteDay[] {
  const keyOf = (row: { siteId: string; date: string }) => `${row.siteId}|${row.date}`;
  const required = new Map(asked.map((row) => [keyOf(row), row]));
  const movedKeys = new Set(moved.map(keyOf));
  const nothing = { served: 0, servedDerived: 0, opened: 0, returned: 0, wasted: 0, countedDays: 0 };
  return [
    ...moved.map(({ atZero, belowZero, ...row }) => {
      const said = required.get(keyOf(row));
      const ranOut: RanOutWhy[] = [
        ...(belowZero ? (['used-more-than-booked'] as const) : atZero ? (['stock-at-zero'] as const) : []),
        ...(said?.shortPick ? (['short-pick'] as const) : []),
      ];
      return { ...row, requiredPortions: said?.portions ?? null, ranOut };
    }),
    ...asked
      .filter((row) => !movedKeys.has(keyOf(row)))
      .map((row): SiteDay => {
        const ranOut: RanOutWhy[] = row.shortPick ? ['short-pick'] : [];
        return { ...nothing, siteName: row.siteName, date: row.date, requiredPortions: row.portions, ranOut };
      }),
  ];
}
