/** SQL of deliveries: made from events, claimed, recorded, trimmed. */
import type { Tx } from '../../../platform/db/db.ts';
import type { Page } from '../../../platform/http/paging.ts';
import type { Sent } from './send.ts';

const MATCHES = `(w.types is null or e.type = any(w.types)) and (w.site_ids is null or e.site_ids && w.site_ids)`;

/**
 * Deliveries of the next events, at most `limit` looked at. The webhook's row is locked before: its last_no is what keeps an event from
 * having two. Answers whether there may be more.
 */
export async function fanOut(tx: Tx, webhookId: string, limit: number, nowMs: number): Promise<boolean> {
  const locked = await tx.query<{ lastNo: number; upToNo: number }>(
    `select w.last_no as "lastNo", least(w.last_no + $3::int, h.last_no) as "upToNo"
       from webhook w
       join event_head h on h.group_id = w.group_id
      where w.group_id = $1::uuid and w.webhook_id = $2::uuid and w.state = 'enabled'
        for update of w skip locked`,
    [tx.groupId, webhookId, limit],
  );
  const row = locked[0];
  if (!row || row.upToNo <= row.lastNo) return false;
  await tx.query(
    `insert into webhook_delivery (group_id, webhook_id, event_no, message_id, state, made_at, due_at)
     select e.group_id, w.webhook_id, e.event_no, e.event_id, 'waiting', to_timestamp($5::float8 / 1000), to_timestamp($5::float8 / 1000)
       from webhook w
       join event e on e.group_id = w.group_id and e.event_no > $3::int8 and e.event_no <= $4::int8
      where w.group_id = $1::uuid and w.webhook_id = $2::uuid and ${MATCHES}
      order by e.event_no`,
    [tx.groupId, webhookId, row.lastNo, row.upToNo, nowMs],
  );
  await tx.query(`update webhook w set last_no = $3::int8 where w.group_id = $1::uuid and w.webhook_id = $2::uuid`, [
    tx.groupId,
    webhookId,
    row.upToNo,
  ]);
  return row.upToNo - row.lastNo === limit;
}

/** Deliveries of events that were looked at before. Answers how many. */
export async function insertReplayed(
  tx: Tx,
  replay: { replayId: string; webhookId: string; afterNo: number; upToNo: number; types: readonly string[] | null },
  nowMs: number,
): Promise<number> {
  const rows = await tx.query(
    `insert into webhook_delivery (group_id, webhook_id, event_no, message_id, replay_id, state, made_at, due_at)
     select e.group_id, w.webhook_id, e.event_no, e.event_id, $3::uuid, 'waiting', to_timestamp($7::float8 / 1000),
            to_timestamp($7::float8 / 1000)
       from webhook w
       join event e on e.group_id = w.group_id and e.event_no > $4::int8 and e.event_no <= $5::int8
      where w.group_id = $1::uuid and w.webhook_id = $2::uuid and ${MATCHES} and ($6::text[] is null or e.type = any($6::text[]))
      order by e.event_no
     returning delivery_no`,
    [tx.groupId, replay.webhookId, replay.replayId, replay.afterNo, replay.upToNo, replay.types, nowMs],
  );
  return rows.length;
}

export async function insertTest(tx: Tx, webhookId: string, messageId: string, nowMs: number): Promise<number> {
  const rows = await tx.query<{ deliveryNo: number }>(
    `insert into webhook_delivery (group_id, webhook_id, message_id, state, made_at, due_at)
     values ($1::uuid, $2::uuid, $3::uuid, 'waiting', to_timestamp($4::float8 / 1000), to_timestamp($4::float8 / 1000))
     returning delivery_no as "deliveryNo"`,
    [tx.groupId, webhookId, messageId, nowMs],
  );
  const row = rows[0];
  if (!row) throw new Error('the test has no number');
  return row.deliveryNo;
}

/** Webhooks that have a secret and something to do, now or soon. */
export async function listServed(tx: Tx): Promise<string[]> {
  const rows = await tx.query<{ webhookId: string }>(
    `select w.webhook_id as "webhookId" from webhook w
      where w.group_id = $1::uuid
        and exists (select from webhook_secret k where k.group_id = w.group_id and k.webhook_id = w.webhook_id)
        and (w.state = 'enabled' or exists (select from webhook_delivery d
              where d.group_id = w.group_id and d.webhook_id = w.webhook_id and d.state = 'waiting' and d.event_no is null))
      order by w.webhook_id`,
    [tx.groupId],
  );
  return rows.map((row) => row.webhookId);
}

export interface Claimed {
  readonly deliveryNo: number;
  readonly messageId: string;
  readonly attempts: number;
  readonly eventNo: number | null;
  readonly madeAt: Date;
}

/** Takes deliveries that are due for so long; whoever does not come back in that time leaves them to others. */
export async function claim(
  tx: Tx,
  webhookId: string,
  { most, leaseMs, nowMs }: { most: number; leaseMs: number; nowMs: number },
): Promise<Claimed[]> {
  return tx.query<Claimed>(
    `update webhook_delivery d
        set claimed_until = to_timestamp(($3::float8 + $4::float8) / 1000), attempts = d.attempts + 1
      where d.group_id = $1::uuid and d.webhook_id = $2::uuid and d.delivery_no in (
        select q.delivery_no
          from webhook_delivery q
          join webhook w on w.group_id = q.group_id and w.webhook_id = q.webhook_id
         where q.group_id = $1::uuid and q.webhook_id = $2::uuid and q.state = 'waiting'
           and q.due_at <= to_timestamp($3::float8 / 1000)
           and (q.claimed_until is null or q.claimed_until <= to_timestamp($3::float8 / 1000))
           and (q.event_no is null
                or w.state = 'enabled' and (w.rest_until is null or w.rest_until <= to_timestamp($3::float8 / 1000)))
         order by q.due_at, q.delivery_no
         limit $5::int
           for update of q skip locked)
     returning d.delivery_no as "deliveryNo", d.message_id as "messageId", d.attempts, d.event_no as "eventNo",
            d.made_at as "madeAt"`,
    [tx.groupId, webhookId, nowMs, leaseMs, most],
  );
}

export interface Recorded {
  readonly webhookId: string;
  readonly deliveryNo: number;
  readonly attemptNo: number;
  readonly startedAtMs: number;
  readonly sent: Sent;
}

/** A second record of one attempt (its lease had run out) changes nothing. */
export async function insertAttempt(tx: Tx, { sent, ...row }: Recorded): Promise<void> {
  await tx.query(
    `insert into webhook_attempt (group_id, webhook_id, delivery_no, attempt_no, started_at, took_ms, status, problem)
     values ($1::uuid, $2::uuid, $3::int8, $4::int, to_timestamp($5::float8 / 1000), $6::int, $7::int, $8::text)
     on conflict (group_id, webhook_id, delivery_no, attempt_no) do nothing`,
    [tx.groupId, row.webhookId, row.deliveryNo, row.attemptNo, row.startedAtMs, sent.tookMs, sent.status, sent.problem],
  );
}

/** `dueAtMs`: tried again then; null: it ends, in that state. What was delivered by another attempt stays delivered. */
export async function settleDelivery(
  tx: Tx,
  row: { webhookId: string; deliveryNo: number },
  state: 'waiting' | 'delivered' | 'given-up',
  dueAtMs: number | null,
  nowMs: number,
): Promise<void> {
  await tx.query(
    `update webhook_delivery d
        set state = $4::text, claimed_until = null, due_at = coalesce(to_timestamp($5::float8 / 1000), d.due_at),
            ended_at = case when $5::float8 is null then to_timestamp($6::float8 / 1000) end
      where d.group_id = $1::uuid and d.webhook_id = $2::uuid and d.delivery_no = $3::int8 and d.state <> 'delivered'`,
    [tx.groupId, row.webhookId, row.deliveryNo, state, dueAtMs, nowMs],
  );
}

/** Counts a failure or begins anew, and says how many there are now. */
export async function countFailure(tx: Tx, webhookId: string, failed: boolean): Promise<number> {
  const rows = await tx.query<{ failures: number }>(
    `update webhook w set failures = case when $3::boolean then w.failures + 1 else 0 end, rest_until = null
      where w.group_id = $1::uuid and w.webhook_id = $2::uuid
     returning w.failures`,
    [tx.groupId, webhookId, failed],
  );
  return rows[0]?.failures ?? 0;
}

export async function restWebhook(tx: Tx, webhookId: string, untilMs: number): Promise<void> {
  await tx.query(
    `update webhook w set rest_until = to_timestamp($3::float8 / 1000) where w.group_id = $1::uuid and w.webhook_id = $2::uuid`,
    [tx.groupId, webhookId, untilMs],
  );
}

/** False when it was off already. */
export async function disableWebhook(tx: Tx, webhookId: string, reason: string): Promise<boolean> {
  const rows = await tx.query(
    `update webhook w set state = 'disabled', disabled_reason = $3::text, version = w.version + 1
      where w.group_id = $1::uuid and w.webhook_id = $2::uuid and w.state = 'enabled'
     returning w.webhook_id`,
    [tx.groupId, webhookId, reason],
  );
  return rows.length > 0;
}

export interface DeliveryRow {
  readonly deliveryNo: number;
  readonly messageId: string;
  readonly eventNo: number | null;
  readonly state: 'waiting' | 'delivered' | 'given-up';
  readonly madeAt: Date;
  readonly dueAt: Date;
  readonly endedAt: Date | null;
  readonly attempts: readonly {
    attemptNo: number;
    startedAtMs: number;
    tookMs: number;
    status: number | null;
    problem: string | null;
  }[];
}

export async function listDeliveries(
  tx: Tx,
  webhookId: string,
  state: string | null,
  page: Page,
): Promise<DeliveryRow[]> {
  return tx.query<DeliveryRow>(
    `select d.delivery_no as "deliveryNo", d.message_id as "messageId", d.event_no as "eventNo", d.state, d.made_at as "madeAt",
            d.due_at as "dueAt", d.ended_at as "endedAt",
            (select coalesce(jsonb_agg(jsonb_build_object('attemptNo', a.attempt_no,
                      'startedAtMs', (extract(epoch from a.started_at) * 1000)::int8, 'tookMs', a.took_ms, 'status', a.status,
                      'problem', a.problem) order by a.attempt_no), '[]'::jsonb)
               from webhook_attempt a
              where a.group_id = d.group_id and a.webhook_id = d.webhook_id and a.delivery_no = d.delivery_no) as attempts
       from webhook_delivery d
      where d.group_id = $1::uuid and d.webhook_id = $2::uuid and ($3::text is null or d.state = $3::text)
        and ($4::int8 is null or d.delivery_no < $4::int8)
      order by d.delivery_no desc
      limit $5::int`,
    [tx.groupId, webhookId, state, page.after?.[0] ?? null, page.limit + 1],
  );
}
