/** Holds and findings. Refusals: `not-found`, `rule-broken`, `wrong-state`. */
import { notFound, Refused } from '../../domain/errors.ts';
import { deputyOf } from '../../platform/auth/actor.ts';
import type { Context, Reply } from '../../platform/http/contract.ts';
import { pageOf, pageReply } from '../../platform/http/paging.ts';
import { findPlaces, findSites } from '../catalogue/index.ts';
import { accountRows, placeAccount } from './accounts.ts';
import type * as contract from './contract-holds.ts';
import { findHold, insertHolds, liftHolds, listHolds, type HoldRow } from './holds-store.ts';
import { findVisibleLots } from './lots-store.ts';
import { findFinding, listFindingRows, settleFinding, type FindingRow } from './findings-queries.ts';
import { ensureAccounts } from './store-book.ts';

function holdAnswer(row: HoldRow): object {
  const at = (time: Date | null) => time?.toISOString() ?? null;
  return { ...row, placedAt: at(row.placedAt), liftedAt: at(row.liftedAt), useByAt: at(row.useByAt) };
}

export async function placeHold(context: Context<typeof contract.createHold>): Promise<Reply> {
  const { body, tx, scope, factId, nowMs } = context;
  const lot = (await findVisibleLots(tx, scope, [body.lotId])).get(body.lotId);
  const siteId = body.siteId ?? null;
  const accountId = body.accountId ?? null;
  const place = accountId ? (await findPlaces(tx, [accountId])).get(accountId) : undefined;
  const site = siteId ? (await findSites(tx, [siteId])).get(siteId) : undefined;
  const accountSite = place?.siteId ?? (accountId ? await siteOfDispatch(context, accountId) : null);
  if (!lot) throw notFound('lot');
  if (siteId && (!site || !scope.includes(siteId))) throw notFound('site');
  if (accountId && (accountSite === null || !scope.includes(accountSite))) throw notFound('place or dispatch');
  if (siteId && accountId) throw new Refused('rule-broken', 'Give siteId or accountId, not both.');
  // Everywhere means at other sites as well: only those who may act at all of them may say so.
  if (!siteId && !accountId && !scope.all)
    throw new Refused('rule-broken', 'Name one of your sites, or a place at it.');
  const propagates = siteId === null && accountId === null;
  // From here on only success.
  // A place where no food has been yet has no account that the hold could name.
  if (place) await ensureAccounts(tx, accountRows([placeAccount(place.placeId, place.siteId)], []));
  const draft = { holdId: factId, kind: body.kind, lotId: lot.lotId, siteId, accountId, propagates, note: body.note };
  const holdSiteId = site?.siteId ?? accountSite;
  const deputyId = deputyOf(context.actor, 'holds.write', holdSiteId);
  await insertHolds(tx, [draft], context.actor.actorId, nowMs, deputyId);
  return holdReply(context, factId, holdSiteId);
}

async function siteOfDispatch(context: Pick<Context, 'tx'>, dispatchId: string): Promise<string | null> {
  const rows = await context.tx.query<{ siteId: string }>(
    `select a.site_id as "siteId" from account a where a.group_id = $1::uuid and a.account_id = $2::uuid and a.kind = 'transit'`,
    [context.tx.groupId, dispatchId],
  );
  return rows[0]?.siteId ?? null;
}

async function holdReply(context: Context, holdId: string, siteId: string | null): Promise<Reply> {
  const row = await findHold(context.tx, context.scope, holdId);
  if (!row) throw new Error(`hold ${holdId} cannot be read back`);
  return { status: 201, body: holdAnswer(row), siteId, headers: { Location: `/v1/holds/${holdId}` } };
}

export async function liftHold(context: Context<typeof contract.createHoldLift>): Promise<Reply> {
  const { tx, scope, params, nowMs } = context;
  const hold = await findHold(tx, scope, params.holdId);
  if (!hold) throw notFound('hold');
  if (!scope.all && (hold.siteId === null || !scope.includes(hold.siteId))) throw notFound('hold');
  if (hold.liftedAt) throw new Refused('wrong-state', 'The hold is lifted already.');
  if (hold.kind === 'awaiting-release' || hold.kind === 'rejected' || hold.kind === 'for-rework') {
    throw new Refused('wrong-state', 'That hold ends with the decision on its batch: release or reject there.');
  }
  if (hold.kind === 'recall' || hold.kind === 'drill') {
    throw new Refused('wrong-state', 'That hold belongs to a recall case: what is decided about it is decided there.');
  }
  if (hold.kind === 'use-by') {
    throw new Refused('wrong-state', 'That is a date, not a hold: only a decision on the shelf life makes it later.');
  }
  // From here on only success.
  const deputyId = deputyOf(context.actor, 'holds.write', hold.siteId);
  await liftHolds(tx, [hold.holdId], context.actor.actorId, context.body.note, nowMs, deputyId);
  return holdReply(context, hold.holdId, hold.siteId);
}

export async function readHold(context: Context<typeof contract.getHold>): Promise<Reply> {
  const hold = await findHold(context.tx, context.scope, context.params.holdId);
  if (!hold) throw notFound('hold');
  return { status: 200, body: holdAnswer(hold) };
}

export async function readHolds(context: Context<typeof contract.listHolds>): Promise<Reply> {
  const { query } = context;
  const page = pageOf(query, ['uuid']);
  const filter = { lotId: query.lotId ?? null, open: query.open === undefined ? null : query.open === 'true' };
  const rows = await listHolds(context.tx, context.scope, filter, page);
  return pageReply(context.path, query, page, rows.map(holdAnswer) as { holdId: string }[], (row) => [row.holdId]);
}

function findingAnswer(row: FindingRow) {
  return {
    ...row,
    occurredAt: row.occurredAt.toISOString(),
    recordedAt: row.recordedAt.toISOString(),
    settledAt: row.settledAt?.toISOString() ?? null,
  };
}

export async function readFindings(context: Context<typeof contract.listFindings>): Promise<Reply> {
  const { query } = context;
  const page = pageOf(query, ['uuid']);
  const filter = {
    siteId: query.siteId ?? null,
    lotId: query.lotId ?? null,
    kind: query.kind ?? null,
    status: query.status ?? 'open',
  };
  const rows = await listFindingRows(context.tx, context.scope, filter, page);
  return pageReply(context.path, query, page, rows.map(findingAnswer), (row) => [row.findingId]);
}

export async function readFinding(context: Context<typeof contract.getFinding>): Promise<Reply> {
  const row = await findFinding(context.tx, context.params.findingId);
  if (!row || !context.scope.includes(row.siteId)) throw notFound('finding');
  return { status: 200, body: findingAnswer(row) };
}

export async function settle(context: Context<typeof contract.createFindingSettlement>): Promise<Reply> {
  const { tx, params, body, nowMs } = context;
  const row = await findFinding(tx, params.findingId);
  if (!row || !context.scope.includes(row.siteId)) throw notFound('finding');
  const done = await settleFinding(tx, params.findingId, context.actor.actorId, body.note, nowMs);
  if (!done) throw new Refused('wrong-state', `The finding is ${row.status} already.`);
  const after = await findFinding(tx, params.findingId);
  return {
    status: 201,
    body: findingAnswer(after ?? row),
    siteId: row.siteId,
    headers: { Location: `/v1/findings/${params.findingId}` },
  };
}
