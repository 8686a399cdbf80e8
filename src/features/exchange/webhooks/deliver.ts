/**
 * Sends what is due. A delivery is claimed in one transaction, sent outside any, and recorded in another: whoever dies in between leaves
 * it to the next when the claim has run out, so each event is sent at least once. Every address has a line of its own: a slow one keeps
 * no other waiting.
 */
import { setTimeout as pause } from 'node:timers/promises';
import { outcomeOf, restS } from '../../../domain/webhook-retries.ts';
import type { Clock } from '../../../platform/clock.ts';
import type { Db, Tx } from '../../../platform/db/db.ts';
import { outbox, wakeJobLater, type Job } from '../../../platform/jobs.ts';
import type { Log } from '../../../platform/log.ts';
import { numberAll } from '../feed/jobs.ts';
import { listEventsAfter, type EventRow } from '../feed/store.ts';
import { DELIVERY_JOB, sealedFor, type WebhookParts } from './commands.ts';
import * as queue from './queue.ts';
import { sendMessage, type Sent } from './send.ts';
import { signatureOf, unseal } from './sign.ts';
import { findWebhook, listSecrets } from './store.ts';
import { trimDeliveries } from './trim.ts';

/** The specification asks for 15 to 30 seconds. */
const TIMEOUT_MS = 15_000;
const LEASE_MS = 60_000;
/** At one address at a time. */
const AT_ONCE = 5;
const LOOK_AT = 500;
/** One run looks for new events so long while other addresses are slow. */
const RUN_MS = 20_000;
const LOOK_AGAIN_MS = 500;
const LOOK_AGAIN_S = 5;
const KEEP_ENDED_DAYS = 30;
const EVERYWHERE = { all: true, siteIds: [] } as const;

interface Parts extends WebhookParts {
  readonly db: Db;
  readonly clock: Clock;
  readonly log: Log;
}

interface Ready {
  readonly url: string;
  readonly secrets: readonly string[];
  readonly claimed: readonly (queue.Claimed & { readonly body: string | null })[];
}

function bodyOf(type: string, atText: string, data: object): string {
  return JSON.stringify({ type, timestamp: atText, data });
}

const bodyOfEvent = ({ type, recordedAt, eventNo, eventId, siteIds, href, data }: EventRow): string =>
  bodyOf(type, recordedAt.toISOString(), { eventNo, eventId, siteIds, href, ...data });

/** The newest first. What was sealed with an earlier secret of the service's does not open and signs no more. @throws when none opens */
async function openSecrets(tx: Tx, parts: Parts, webhookId: string, nowMs: number): Promise<string[]> {
  const key = parts.tokens.keyFor('webhook-secrets');
  const opened = (await listSecrets(tx, webhookId, nowMs)).flatMap(({ secretNo, sealed }) => {
    try {
      return [unseal(key, sealed, sealedFor(tx.groupId, webhookId, secretNo))];
    } catch {
      return [];
    }
  });
  if (opened.length === 0) throw new Error('no secret of the webhook can be opened; make a new one');
  return opened;
}

/** Makes deliveries of new events, takes some that are due, and reads what they say. Null: nothing is due. */
async function prepare(tx: Tx, parts: Parts, webhookId: string): Promise<Ready | null> {
  const nowMs = parts.clock.nowMs();
  for (let more = true; more;) more = await queue.fanOut(tx, webhookId, LOOK_AT, nowMs);
  const claimed = await queue.claim(tx, webhookId, { most: AT_ONCE, leaseMs: LEASE_MS, nowMs });
  const webhook = claimed.length === 0 ? null : await findWebhook(tx, EVERYWHERE, webhookId);
  if (!webhook) return null;
  const secrets = await openSecrets(tx, parts, webhookId, nowMs);
  const ready = [];
  for (const one of claimed) {
    const no = one.eventNo;
    const [event] = no === null ? [] : await listEventsAfter(tx, no - 1, no, { types: null, scope: EVERYWHERE }, 1);
    const test = no === null ? bodyOf('webhook-test', one.madeAt.toISOString(), { webhookId }) : null;
    ready.push({ ...one, body: event ? bodyOfEvent(event) : test });
  }
  return { url: webhook.url, secrets, claimed: ready };
}

/** What an attempt came to: it ends, or waits for the next; the address rests, or is off. */
async function record(tx: Tx, recorded: queue.Recorded, isTest: boolean, nowMs: number): Promise<void> {
  const { webhookId, attemptNo, sent } = recorded;
  const outcome = outcomeOf(sent.status, attemptNo, isTest);
  await queue.insertAttempt(tx, recorded);
  const dueAtMs = outcome.kind === 'again' ? nowMs + outcome.afterS * 1000 : null;
  await queue.settleDelivery(tx, recorded, outcome.kind === 'again' ? 'waiting' : outcome.kind, dueAtMs, nowMs);
  if (isTest) return;
  const failures = await queue.countFailure(tx, webhookId, outcome.kind !== 'delivered');
  const rest = restS(failures);
  if (rest > 0) await queue.restWebhook(tx, webhookId, nowMs + rest * 1000);
  const reason = outcome.kind === 'given-up' ? outcome.disables : null;
  if (reason !== null && (await queue.disableWebhook(tx, webhookId, reason))) {
    await outbox(tx, 'webhook-disabled', { webhookId, reason }, nowMs);
  }
}

/** Sends what is due to one address, some at once. Answers whether there was anything. */
async function serve(parts: Parts, groupId: string, webhookId: string): Promise<boolean> {
  const { db, clock } = parts;
  const ready = await db.inGroup(groupId, 'write', (tx) => prepare(tx, parts, webhookId));
  if (!ready) return false;
  await Promise.all(
    ready.claimed.map(async ({ deliveryNo, messageId: id, attempts, eventNo, body }) => {
      const startedAtMs = clock.nowMs();
      const timestampS = Math.floor(startedAtMs / 1000);
      const gone: Sent = { status: null, problem: 'the event is no longer kept', tookMs: 0 };
      const signature = signatureOf(ready.secrets, id, timestampS, body ?? '');
      const sent =
        body === null
          ? gone
          : await sendMessage(
              { url: ready.url, id, timestampS, signature, body },
              { allowPrivate: parts.webhookAllowPrivate ?? false, timeoutMs: TIMEOUT_MS },
            );
      const recorded = { webhookId, deliveryNo, attemptNo: attempts, startedAtMs, sent };
      await db.inGroup(groupId, 'write', (tx) => record(tx, recorded, eventNo === null, clock.nowMs()));
    }),
  );
  return true;
}

/** All that is due in the group; answers how many webhooks are served. */
async function deliverDue(parts: Parts, groupId: string): Promise<number> {
  await numberAll(parts, groupId);
  const served = await parts.db.inGroup(groupId, 'read', queue.listServed);
  const busy = new Set(served);
  const stop = AbortSignal.timeout(RUN_MS);
  await Promise.all(
    served.map(async (webhookId) => {
      try {
        // While others are slow, this one goes on with what is new.
        while (!stop.aborted) {
          if (await serve(parts, groupId, webhookId)) continue;
          busy.delete(webhookId);
          if (busy.size === 0) return;
          await pause(LOOK_AGAIN_MS);
          await numberAll(parts, groupId);
        }
      } catch (error) {
        // A secret that does not open, say: the others go on.
        parts.log.error({ err: error, webhookId }, 'webhook not served');
      } finally {
        busy.delete(webhookId);
      }
    }),
  );
  return served.length;
}

export function webhookJobs(parts: Parts): readonly Job[] {
  return [
    {
      name: DELIVERY_JOB,
      sweep: '* * * * *',
      async run({ groupId }) {
        const served = await deliverDue(parts, groupId);
        if (served === 0) return;
        await parts.db.inGroup(groupId, 'write', (tx) => wakeJobLater(tx, DELIVERY_JOB, LOOK_AGAIN_S));
      },
    },
    {
      name: 'trim-webhook-deliveries',
      sweep: '47 3 * * *',
      async run({ groupId }) {
        const beforeMs = parts.clock.nowMs() - KEEP_ENDED_DAYS * 86_400_000;
        await parts.db.inGroup(groupId, 'write', (tx) => trimDeliveries(tx, beforeMs));
      },
    },
  ];
}
