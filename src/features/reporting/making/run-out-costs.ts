/** What running out costs, as the group states it. Refusals: `not-found` (site, item), `rule-broken` (not one of the two ways; a scope that is not yours). */
import { notFound, Refused } from '../../../domain/errors.ts';
import type { Context, Reply } from '../../../platform/http/contract.ts';
import { findItems, findSites } from '../../catalogue/index.ts';
import { getCurrency } from '../../identity/index.ts';
import type { createRunOutCost } from './contract.ts';
import { insertRunOutCost, type RunOutCostRow } from './store.ts';

const broken = (detail: string, pointer: string): Refused =>
  new Refused('rule-broken', detail, { errors: [{ detail, pointer }] });

export async function stateRunOutCost(context: Context<typeof createRunOutCost>): Promise<Reply> {
  const { tx, body, scope, actor, factId, nowMs } = context;
  const { siteId, itemId, costMinor, perQuantity, ratioPercent } = body;
  if (siteId === undefined && !scope.all) {
    throw broken('Name one of your sites; everywhere is for those who act for every site.', '#/siteId');
  }
  if (siteId !== undefined && (!scope.includes(siteId) || !(await findSites(tx, [siteId])).has(siteId))) {
    throw notFound('site');
  }
  if (itemId !== undefined && !(await findItems(tx, [itemId])).has(itemId)) throw notFound('item');
  if ((costMinor === undefined) === (ratioPercent === undefined)) {
    throw broken('Say either costMinor or ratioPercent.', costMinor === undefined ? '#/costMinor' : '#/ratioPercent');
  }
  if (perQuantity !== undefined && costMinor === undefined) {
    throw broken('A percentage is of the cost of any quantity.', '#/perQuantity');
  }
  const row: RunOutCostRow = {
    runOutCostId: factId,
    siteId: siteId ?? null,
    itemId: itemId ?? null,
    costMinor: costMinor ?? null,
    perQuantity: perQuantity ?? 1,
    ratioPercent: ratioPercent ?? null,
    note: body.note ?? null,
    recordedAt: new Date(nowMs),
    recordedBy: actor.actorId,
  };
  const currency = await getCurrency(tx);
  // From here on only success.
  await insertRunOutCost(tx, row);
  return { status: 201, body: { ...row, currency, recordedAt: row.recordedAt.toISOString() }, siteId: row.siteId };
}
