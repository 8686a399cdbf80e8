/** Reading the account, and whom to chase. Refusals: `not-found`. */
import type { Context, Reply } from '../../../platform/http/contract.ts';
import { getVisibleRecall } from '../answer.ts';
import { checksOf } from '../checks/store.ts';
import { openBySite, openLinesOf, quantityText, siteAnswers, unitAnswer } from './answer.ts';
import type * as contract from './contract.ts';
import { loadAccount } from './load.ts';
import { listTold } from './queries.ts';

export async function readAccount(context: Context<typeof contract.getRecallAccount>): Promise<Reply> {
  const { tx, scope, params, query, nowMs } = context;
  const found = await getVisibleRecall(tx, scope, params.recallId);
  const account = await loadAccount(tx, found);
  const told = await listTold(tx, found.recallId);
  const body = {
    recallId: found.recallId,
    at: new Date(nowMs).toISOString(),
    figures: account.figures,
    byUnit: account.byUnit.map(unitAnswer),
    checks: await checksOf(tx, found.recallId, told.length),
    sites: await siteAnswers(tx, account, told, query.siteId ?? null),
    openLines: openLinesOf(account).length,
  };
  return { status: 200, body };
}

export async function readChasing(context: Context<typeof contract.listRecallChasing>): Promise<Reply> {
  const { tx, scope, params, nowMs } = context;
  const found = await getVisibleRecall(tx, scope, params.recallId);
  const open = openBySite(await loadAccount(tx, found));
  const told = await listTold(tx, found.recallId);
  const sites = told
    .map((row) => {
      const lines = open.get(row.siteId) ?? [];
      return {
        siteId: row.siteId,
        siteName: row.siteName,
        noticedAt: row.noticedAt.toISOString(),
        acknowledgedAt: row.acknowledgedAt?.toISOString() ?? null,
        answered: row.answeredAt !== null || !row.awaitsAnswer,
        openLots: lines.length,
        openQuantityText: quantityText(lines),
        waitingMinutes: Math.max(0, Math.floor((nowMs - row.noticedAt.getTime()) / 60_000)),
      };
    })
    .filter((site) => site.acknowledgedAt === null || site.openLots > 0 || !site.answered)
    .sort((a, b) => b.waitingMinutes - a.waitingMinutes || b.openLots - a.openLots);
  return { status: 200, body: { sites } };
}
