/** Rates. Refusals: `not-found`, `forbidden`, `rule-broken`, `currency-differs`, `month-closed`, `bad-cursor`. */
import { notFound, Refused } from '../../../domain/errors.ts';
import { isCalendarDate } from '../../../domain/time.ts';
import type { Context, Reply } from '../../../platform/http/contract.ts';
import { pageOf, pageReply } from '../../../platform/http/paging.ts';
import { wakeJob } from '../../../platform/jobs.ts';
import { findRecipes, findSites } from '../../catalogue/index.ts';
import { getCurrency } from '../../identity/index.ts';
import { takeMoneyNo } from '../../ledger/index.ts';
import { findBooks, requireCurrency } from '../money.ts';
import type { createCostRate, listCostRates } from './contract.ts';
import { insertCostRate, listCostRateRows } from './store.ts';

function broken(detail: string, pointer: string): Refused {
  return new Refused('rule-broken', detail, { errors: [{ detail, pointer }] });
}

function requireDays({
  fromDate,
  throughDate,
}: {
  readonly fromDate: string;
  readonly throughDate?: string | undefined;
}): void {
  if (!isCalendarDate(fromDate)) throw broken(`${fromDate} is not on the calendar.`, '#/fromDate');
  if (throughDate === undefined) return;
  if (!isCalendarDate(throughDate)) throw broken(`${throughDate} is not on the calendar.`, '#/throughDate');
  if (throughDate < fromDate) throw broken(`${throughDate} is before ${fromDate}.`, '#/throughDate');
}

export async function sayCostRate(context: Context<typeof createCostRate>): Promise<Reply> {
  const { tx, scope, body, factId, actor, nowMs } = context;
  const { siteId = null, recipeId = null } = body;
  if (siteId === null && !scope.all) {
    throw new Refused('forbidden', 'A rate for every site is for those who act for all of them: name the site.');
  }
  if (siteId !== null && (!scope.includes(siteId) || !(await findSites(tx, [siteId])).has(siteId)))
    throw notFound('site');
  if (recipeId !== null && !(await findRecipes(tx, [recipeId])).has(recipeId)) throw notFound('recipe');
  if ((body.perBatchMinor === undefined) === (body.perKgMinor === undefined)) {
    throw broken('Give perBatchMinor or perKgMinor, one of them.', '#/perBatchMinor');
  }
  requireDays(body);
  const currency = await requireCurrency(tx, body.currency);
  const books = await findBooks(tx);
  if (books !== null && body.fromDate < `${books.openMonth}-01`) {
    const detail = `${books.lastClose.month} is closed: a rate can begin on ${books.openMonth}-01 or later.`;
    throw new Refused('month-closed', detail, { errors: [{ detail, pointer: '#/fromDate' }] });
  }
  // From here on only success.
  const fact = { kind: 'cost-rate', subjectId: factId, factId, actorId: actor.actorId } as const;
  const moneyNo = await takeMoneyNo(tx, fact, nowMs);
  const rate = {
    costRateId: factId,
    kind: body.kind,
    siteId,
    recipeId,
    perBatchMinor: body.perBatchMinor ?? null,
    perKgMinor: body.perKgMinor ?? null,
    fromDate: body.fromDate,
    throughDate: body.throughDate ?? null,
    note: body.note ?? null,
    moneyNo,
    recordedBy: actor.actorId,
  };
  await insertCostRate(tx, rate, nowMs);
  await wakeJob(tx, 'reckon-costs');
  const answer = { ...rate, currency, replaced: false, recordedAt: new Date(nowMs).toISOString() };
  return { status: 201, body: answer, siteId, headers: { Location: '/v1/cost-rates' } };
}

export async function readCostRates(context: Context<typeof listCostRates>): Promise<Reply> {
  const { tx, scope, query, path } = context;
  const page = pageOf(query, ['int']);
  const currency = await getCurrency(tx);
  const { kind = null, siteId = null, recipeId = null } = query;
  const rows = await listCostRateRows(tx, scope, { kind, siteId, recipeId }, page);
  const answers = rows.map((row) => ({ ...row, currency, recordedAt: row.recordedAt.toISOString() }));
  return pageReply(path, query, page, answers, (row) => [String(row.moneyNo)]);
}
