/** SQL of webhooks, their secrets and replays. */
import type { Tx } from '../../../platform/db/db.ts';
import type { SiteScope } from '../../../platform/http/contract.ts';
import type { Page } from '../../../platform/http/paging.ts';

export interface WebhookRow {
  readonly webhookId: string;
  readonly url: string;
  readonly description: string;
  readonly types: readonly string[] | null;
  readonly siteIds: readonly string[] | null;
  readonly state: 'enabled' | 'disabled';
  readonly disabledReason: string | null;
  readonly lastNo: number;
  readonly failures: number;
  readonly createdAt: Date;
  readonly version: number;
  readonly waiting: number;
  readonly hasSecret: boolean;
}

const COLUMNS = `w.webhook_id as "webhookId", w.url, w.description, w.types, w.site_ids as "siteIds", w.state,
  w.disabled_reason as "disabledReason", w.last_no as "lastNo", w.failures, w.created_at as "createdAt", w.version,
  (select count(*) from webhook_delivery d
    where d.group_id = w.group_id and d.webhook_id = w.webhook_id and d.state = 'waiting') as waiting,
  exists (select from webhook_secret k where k.group_id = w.group_id and k.webhook_id = w.webhook_id) as "hasSecret"`;

/** Whoever acts at every site that it tells of. */
const VISIBLE = `($2::boolean or w.site_ids <@ $3::uuid[])`;

type Seen = Pick<SiteScope, 'all' | 'siteIds'>;

export async function findWebhook(tx: Tx, scope: Seen, webhookId: string): Promise<WebhookRow | null> {
  const rows = await tx.query<WebhookRow>(
    `select ${COLUMNS} from webhook w where w.group_id = $1::uuid and ${VISIBLE} and w.webhook_id = $4::uuid`,
    [tx.groupId, scope.all, scope.siteIds, webhookId],
  );
  return rows[0] ?? null;
}

/** False when there is none that may be seen. The lock comes before what is decided is read. */
export async function lockWebhook(tx: Tx, scope: Seen, webhookId: string): Promise<boolean> {
  const rows = await tx.query(
    `select w.webhook_id from webhook w where w.group_id = $1::uuid and ${VISIBLE} and w.webhook_id = $4::uuid for update`,
    [tx.groupId, scope.all, scope.siteIds, webhookId],
  );
  return rows.length > 0;
}

export async function listWebhooks(tx: Tx, scope: Seen, page: Page): Promise<WebhookRow[]> {
  return tx.query<WebhookRow>(
    `select ${COLUMNS} from webhook w
      where w.group_id = $1::uuid and ${VISIBLE} and ($4::uuid is null or w.webhook_id > $4::uuid)
      order by w.webhook_id limit $5::int`,
    [tx.groupId, scope.all, scope.siteIds, page.after?.[0] ?? null, page.limit + 1],
  );
}

export interface WebhookDraft {
  readonly webhookId: string;
  readonly url: string;
  readonly description: string;
  readonly types: readonly string[] | null;
  readonly siteIds: readonly string[] | null;
  readonly lastNo: number;
  readonly createdBy: string;
}

export async function insertWebhook(tx: Tx, draft: WebhookDraft, nowMs: number): Promise<void> {
  await tx.query(
    `insert into webhook (group_id, webhook_id, url, description, types, site_ids, state, last_no, created_by, created_at)
     values ($1::uuid, $2::uuid, $3::text, $4::text, $5::text[], $6::uuid[], 'enabled', $7::int8, $8::uuid,
             to_timestamp($9::float8 / 1000))`,
    [
      tx.groupId,
      draft.webhookId,
      draft.url,
      draft.description,
      draft.types,
      draft.siteIds,
      draft.lastNo,
      draft.createdBy,
      nowMs,
    ],
  );
}

export async function countWebhooks(tx: Tx): Promise<number> {
  const rows = await tx.query<{ count: number }>(`select count(*) from webhook w where w.group_id = $1::uuid`, [
    tx.groupId,
  ]);
  return rows[0]?.count ?? 0;
}

/** A change of somebody's begins the count of failures anew. */
export async function updateWebhook(
  tx: Tx,
  row: Pick<WebhookRow, 'webhookId' | 'url' | 'description' | 'types' | 'state' | 'disabledReason'>,
): Promise<void> {
  await tx.query(
    `update webhook w set url = $3::text, description = $4::text, types = $5::text[], state = $6::text,
            disabled_reason = $7::text, failures = 0, rest_until = null, version = w.version + 1
      where w.group_id = $1::uuid and w.webhook_id = $2::uuid`,
    [tx.groupId, row.webhookId, row.url, row.description, row.types, row.state, row.disabledReason],
  );
}

export interface SecretRow {
  readonly secretNo: number;
  readonly sealed: Buffer;
  readonly endsAt: Date | null;
}

/** Those in force, the newest first. */
export async function listSecrets(tx: Tx, webhookId: string, nowMs: number): Promise<SecretRow[]> {
  return tx.query<SecretRow>(
    `select k.secret_no as "secretNo", k.sealed, k.ends_at as "endsAt"
       from webhook_secret k
      where k.group_id = $1::uuid and k.webhook_id = $2::uuid
        and (k.ends_at is null or k.ends_at > to_timestamp($3::float8 / 1000))
      order by k.secret_no desc`,
    [tx.groupId, webhookId, nowMs],
  );
}

export async function nextSecretNo(tx: Tx, webhookId: string): Promise<number> {
  const rows = await tx.query<{ next: number }>(
    `select coalesce(max(k.secret_no), 0) + 1 as next from webhook_secret k
      where k.group_id = $1::uuid and k.webhook_id = $2::uuid`,
    [tx.groupId, webhookId],
  );
  return rows[0]?.next ?? 1;
}

/** The one before ends then; one that was to end already ends now. */
export async function endSecrets(tx: Tx, webhookId: string, atMs: number, nowMs: number): Promise<void> {
  await tx.query(
    `update webhook_secret k
        set ends_at = case when k.ends_at is null then to_timestamp($3::float8 / 1000)
                           else least(k.ends_at, to_timestamp($4::float8 / 1000)) end
      where k.group_id = $1::uuid and k.webhook_id = $2::uuid`,
    [tx.groupId, webhookId, atMs, nowMs],
  );
}

export async function insertSecret(
  tx: Tx,
  webhookId: string,
  secretNo: number,
  sealed: Buffer,
  nowMs: number,
): Promise<void> {
  await tx.query(
    `insert into webhook_secret (group_id, webhook_id, secret_no, sealed, made_at)
     values ($1::uuid, $2::uuid, $3::int, $4::bytea, to_timestamp($5::float8 / 1000))`,
    [tx.groupId, webhookId, secretNo, sealed, nowMs],
  );
}

export interface ReplayDraft {
  readonly replayId: string;
  readonly webhookId: string;
  readonly afterNo: number;
  readonly upToNo: number;
  readonly types: readonly string[] | null;
  readonly deliveries: number;
  readonly askedBy: string;
}

export async function insertReplay(tx: Tx, draft: ReplayDraft, nowMs: number): Promise<void> {
  await tx.query(
    `insert into webhook_replay (group_id, replay_id, webhook_id, after_no, up_to_no, types, deliveries, asked_by, asked_at)
     values ($1::uuid, $2::uuid, $3::uuid, $4::int8, $5::int8, $6::text[], $7::int, $8::uuid, to_timestamp($9::float8 / 1000))`,
    [
      tx.groupId,
      draft.replayId,
      draft.webhookId,
      draft.afterNo,
      draft.upToNo,
      draft.types,
      draft.deliveries,
      draft.askedBy,
      nowMs,
    ],
  );
}

/** The number before the first event that was recorded at that time or later, of those up to another. */
export async function findNoBefore(tx: Tx, sinceMs: number, upToNo: number): Promise<number> {
  const rows = await tx.query<{ eventNo: number | null }>(
    `select min(e.event_no) - 1 as "eventNo" from event e
      where e.group_id = $1::uuid and e.recorded_at >= to_timestamp($2::float8 / 1000) and e.event_no <= $3::int8`,
    [tx.groupId, sinceMs, upToNo],
  );
  return rows[0]?.eventNo ?? upToNo;
}
