/**
 * Webhooks and what was sent. Refusals: `not-found`, `webhook-address-refused`, `rule-broken` (a type that there is not, too many
 * webhooks or events), `events-gone`, `bad-cursor`, `version-mismatch`.
 */
import { notFound, Refused } from '../../../domain/errors.ts';
import { fromInstant, utc } from '../../../domain/time.ts';
import type { Tokens } from '../../../platform/auth/tokens.ts';
import type { Context, Reply } from '../../../platform/http/contract.ts';
import { requireVersion } from '../../../platform/http/etags.ts';
import { pageOf, pageReply } from '../../../platform/http/paging.ts';
import { createdReply, stateReply } from '../../../platform/http/replies.ts';
import { wakeJob } from '../../../platform/jobs.ts';
import { requireKept, typesOf } from '../feed/commands.ts';
import { numberEvents } from '../feed/number.ts';
import { readStanding } from '../feed/store.ts';
import { requireAddress } from './addresses.ts';
import type * as contract from './contract.ts';
import * as queue from './queue.ts';
import { newWebhookSecret, seal } from './sign.ts';
import * as store from './store.ts';

export const DELIVERY_JOB = 'deliver-webhooks';
/** Each is served by connections of its own; no group needs more (common practice). */
const MOST_WEBHOOKS = 50;
const MOST_REPLAYED = 10_000;
const OVERLAP_H = 24;

export interface WebhookParts {
  readonly tokens: Tokens;
  readonly webhookAllowPrivate?: boolean;
}

/** What binds a sealed secret to its row. */
export const sealedFor = (groupId: string, webhookId: string, secretNo: number): string =>
  `webhook-secret|${groupId}|${webhookId}|${secretNo}`;

function answerOf({ lastNo, failures: _failures, createdAt, ...row }: store.WebhookRow) {
  return { ...row, upTo: String(lastNo), createdAt: createdAt.toISOString() };
}

async function getWebhook({ tx, scope }: Pick<Context, 'tx' | 'scope'>, webhookId: string): Promise<store.WebhookRow> {
  const row = await store.findWebhook(tx, scope, webhookId);
  if (!row) throw notFound('webhook');
  return row;
}

async function lockWebhook(context: Pick<Context, 'tx' | 'scope'>, webhookId: string): Promise<store.WebhookRow> {
  if (!(await store.lockWebhook(context.tx, context.scope, webhookId))) throw notFound('webhook');
  return getWebhook(context, webhookId);
}

export const createWebhookCommand =
  (parts: WebhookParts) =>
  async (context: Context<typeof contract.createWebhook>): Promise<Reply> => {
    const { tx, scope, body, factId, actor, nowMs } = context;
    const url = requireAddress(body.url, parts.webhookAllowPrivate ?? false);
    const types = typesOf(body.types, '#/types');
    if ((await store.countWebhooks(tx)) >= MOST_WEBHOOKS) {
      throw new Refused('rule-broken', `A group has at most ${MOST_WEBHOOKS} webhooks.`);
    }
    // What has happened before is not sent, also when it has no number yet.
    for (let more = true; more;) more = (await numberEvents(tx, nowMs)).more;
    const { lastNo } = await readStanding(tx);
    const siteIds = scope.all ? null : scope.siteIds;
    const { description } = body;
    // From here on only success.
    const draft = { webhookId: factId, url, description, types, siteIds, lastNo, createdBy: actor.actorId };
    await store.insertWebhook(tx, draft, nowMs);
    await wakeJob(tx, DELIVERY_JOB);
    return createdReply(`/v1/webhooks/${factId}`, answerOf(await getWebhook(context, factId)), null);
  };

export async function listWebhooksQuery(context: Context<typeof contract.listWebhooks>): Promise<Reply> {
  const { tx, scope, query, path } = context;
  const page = pageOf(query, ['uuid']);
  const rows = await store.listWebhooks(tx, scope, page);
  return pageReply(path, query, page, rows.map(answerOf), (row) => [row.webhookId]);
}

export async function getWebhookQuery(context: Context<typeof contract.getWebhook>): Promise<Reply> {
  return stateReply(answerOf(await getWebhook(context, context.params.webhookId)));
}

export const changeWebhookCommand =
  (parts: WebhookParts) =>
  async (context: Context<typeof contract.changeWebhook>): Promise<Reply> => {
    const { tx, params, body, ifMatch } = context;
    const row = await lockWebhook(context, params.webhookId);
    requireVersion(ifMatch, row.version);
    const url = body.url === undefined ? row.url : requireAddress(body.url, parts.webhookAllowPrivate ?? false);
    const types = body.types === undefined ? row.types : typesOf(body.types ?? undefined, '#/types');
    const enabled = body.enabled ?? row.state === 'enabled';
    const reason = enabled ? null : (row.disabledReason ?? 'Switched off');
    const state = enabled ? ('enabled' as const) : ('disabled' as const);
    const changed = {
      ...row,
      url,
      types,
      state,
      description: body.description ?? row.description,
      disabledReason: reason,
    };
    // From here on only success.
    await store.updateWebhook(tx, changed);
    await wakeJob(tx, DELIVERY_JOB);
    return stateReply(answerOf(await getWebhook(context, row.webhookId)));
  };

/** Not part of the webhook's version, and no fact: what is told once is not kept as an answer. */
export const createSecretCommand =
  (parts: WebhookParts) =>
  async (context: Context<typeof contract.createWebhookSecret>): Promise<Reply> => {
    const { tx, params, body, nowMs } = context;
    const { webhookId } = await lockWebhook(context, params.webhookId);
    const [previous] = await store.listSecrets(tx, webhookId, nowMs);
    const secretNo = await store.nextSecretNo(tx, webhookId);
    const secret = newWebhookSecret();
    const sealed = seal(parts.tokens.keyFor('webhook-secrets'), secret, sealedFor(tx.groupId, webhookId, secretNo));
    const endsAtMs = nowMs + (body.overlapH ?? OVERLAP_H) * 3_600_000;
    // From here on only success.
    await store.endSecrets(tx, webhookId, endsAtMs, nowMs);
    await store.insertSecret(tx, webhookId, secretNo, sealed, nowMs);
    await wakeJob(tx, DELIVERY_JOB);
    return { status: 200, body: { webhookId, secret, previousEndsAt: previous ? utc(endsAtMs) : null } };
  };

export async function createReplayCommand(context: Context<typeof contract.createWebhookReplay>): Promise<Reply> {
  const { tx, params, body, factId, actor, nowMs } = context;
  const row = await lockWebhook(context, params.webhookId);
  const { webhookId, lastNo: upToNo } = row;
  if ((body.after === undefined) === (body.since === undefined)) {
    throw new Refused('rule-broken', 'Say after which cursor or since when, not both.');
  }
  const standing = await readStanding(tx);
  const sinceMs = body.since === undefined ? null : fromInstant(body.since);
  const afterNo = sinceMs === null ? Number(body.after) : await store.findNoBefore(tx, sinceMs, upToNo);
  requireKept(afterNo, { ...standing, lastNo: Math.max(upToNo, standing.lastNo) });
  if (upToNo - afterNo > MOST_REPLAYED) {
    throw new Refused('rule-broken', `${upToNo - afterNo} events are more than the ${MOST_REPLAYED} of one replay.`);
  }
  const types = typesOf(body.types, '#/types');
  const replay = { replayId: factId, webhookId, afterNo, upToNo: Math.max(afterNo, upToNo), types };
  // From here on only success.
  const deliveries = await queue.insertReplayed(tx, replay, nowMs);
  await store.insertReplay(tx, { ...replay, deliveries, askedBy: actor.actorId }, nowMs);
  await wakeJob(tx, DELIVERY_JOB);
  return {
    status: 201,
    body: { replayId: factId, webhookId, after: String(afterNo), upTo: String(replay.upToNo), deliveries },
    headers: { Location: `/v1/webhooks/${webhookId}/deliveries` },
  };
}

export async function createTestCommand(context: Context<typeof contract.createWebhookTest>): Promise<Reply> {
  const { tx, params, factId, nowMs } = context;
  const { webhookId } = await lockWebhook(context, params.webhookId);
  // From here on only success.
  const deliveryNo = await queue.insertTest(tx, webhookId, factId, nowMs);
  await wakeJob(tx, DELIVERY_JOB);
  return {
    status: 201,
    body: { webhookId, messageId: factId, deliveryNo },
    headers: { Location: `/v1/webhooks/${webhookId}/deliveries` },
  };
}

export async function listDeliveriesQuery(context: Context<typeof contract.listWebhookDeliveries>): Promise<Reply> {
  const { tx, params, query, path } = context;
  const { webhookId } = await getWebhook(context, params.webhookId);
  const page = pageOf(query, ['int']);
  const rows = await queue.listDeliveries(tx, webhookId, query.state ?? null, page);
  const items = rows.map(({ dueAt, madeAt, endedAt, attempts, ...row }) => ({
    ...row,
    madeAt: madeAt.toISOString(),
    nextAttemptAt: row.state === 'waiting' ? dueAt.toISOString() : null,
    endedAt: endedAt?.toISOString() ?? null,
    attempts: attempts.map(({ startedAtMs, ...attempt }) => ({ ...attempt, startedAt: utc(startedAtMs) })),
  }));
  return pageReply(path, query, page, items, (row) => [String(row.deliveryNo)]);
}
