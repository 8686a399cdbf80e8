/** Refusals: `not-found`, `code-taken`, `rule-broken`, `version-mismatch`. */
import { notFound } from '../../../domain/errors.ts';
import { reasonsOf, STANDARD_REASONS, type KnownReason } from '../../../domain/waste-reasons.ts';
import type { Context, Reply } from '../../../platform/http/contract.ts';
import { etagOf, requireVersion } from '../../../platform/http/etags.ts';
import { stateReply } from '../../../platform/http/replies.ts';
import { findSites, lockSite, type SiteRow } from '../sites/store.ts';
import { brokenRule, insertVersions } from '../store.ts';
import type { changeWasteReason, createWasteReason, listWasteReasons } from './contract.ts';
import * as store from './store.ts';

const MOST = 100;

function answerOf(code: string, known: KnownReason | undefined, row: store.WasteReasonRow | undefined) {
  return {
    code,
    label: known?.label ?? '',
    standardReason: known?.standardReason ?? '',
    stage: known?.stage ?? '',
    active: row?.active ?? true,
    own: !STANDARD_REASONS.has(code),
    version: row?.version ?? 0,
  };
}

/** One reason, as the list shows it. */
const shown = (site: SiteRow, row: store.WasteReasonRow) =>
  answerOf(row.code, reasonsOf(site.foodWasteStage, [row]).get(row.code), row);

function standardOf({ code, standardReason }: Context<typeof createWasteReason>['body']): string {
  if (!STANDARD_REASONS.has(code)) {
    if (standardReason === undefined) throw brokenRule('#/standardReason', 'Say which standard reason it belongs to.');
    return standardReason;
  }
  if (standardReason !== undefined && standardReason !== code)
    throw brokenRule('#/standardReason', `${code} is a standard reason itself.`);
  return code;
}

export async function createWasteReasonCommand(context: Context<typeof createWasteReason>): Promise<Reply> {
  const { tx, params, body, factId, scope } = context;
  // Two that are added at once are counted one after the other.
  const site = await lockSite(tx, params.siteId);
  if (!site || !scope.includes(site.siteId)) throw notFound('site');
  const standardReason = standardOf(body);
  if ((await store.listOwnReasons(tx, [site.siteId])).length >= MOST)
    throw brokenRule('#/code', `A site has ${MOST} names of its own at most.`);
  const { code, label } = body;
  const { siteId } = site;
  const row: store.WasteReasonRow = {
    wasteReasonId: factId,
    siteId,
    code,
    label,
    standardReason,
    active: true,
    version: 1,
  };
  // From here on only success.
  await store.insertReason(tx, row);
  await insertVersions(context, [{ kind: 'waste-reason', objectId: factId, content: row }]);
  return { status: 201, body: shown(site, row), headers: { ETag: etagOf(row.version) }, siteId };
}

export async function listWasteReasonsQuery(context: Context<typeof listWasteReasons>): Promise<Reply> {
  const { tx, params, scope } = context;
  const site = (await findSites(tx, [params.siteId])).get(params.siteId);
  if (!site || !scope.includes(site.siteId)) throw notFound('site');
  const { siteId, foodWasteStage } = site;
  const own = await store.listOwnReasons(tx, [siteId]);
  const rows = new Map(own.map((row) => [row.code, row]));
  const known = reasonsOf(foodWasteStage, own);
  const reasons = Array.from(known, ([code, reason]) => answerOf(code, reason, rows.get(code)));
  return { status: 200, body: { siteId, foodWasteStage, reasons } };
}

export async function changeWasteReasonCommand(context: Context<typeof changeWasteReason>): Promise<Reply> {
  const { tx, params, body, scope, ifMatch } = context;
  const site = (await findSites(tx, [params.siteId])).get(params.siteId);
  if (!site || !scope.includes(site.siteId)) throw notFound('site');
  const row = await store.lockReason(tx, site.siteId, params.code);
  if (!row) throw notFound('reason of the site');
  requireVersion(ifMatch, row.version);
  if (body.active === false && STANDARD_REASONS.has(row.code))
    throw brokenRule('#/active', 'Standard reasons are always offered.');
  const changed: store.WasteReasonRow = {
    ...row,
    label: body.label ?? row.label,
    active: body.active ?? row.active,
    version: row.version + 1,
  };
  // From here on only success.
  await store.updateReason(tx, changed);
  await insertVersions(context, [{ kind: 'waste-reason', objectId: row.wasteReasonId, content: changed }]);
  return stateReply(shown(site, changed));
}
