/** SQL of the event feed. */
import type { Tx } from '../../../platform/db/db.ts';
import type { SiteScope } from '../../../platform/http/contract.ts';
import type { EventDraft } from './describe.ts';

export interface Head {
  readonly lastNo: number;
  readonly lastSeq: number;
  readonly firstNo: number;
}

const HEAD = `h.last_no as "lastNo", h.last_seq as "lastSeq", h.first_no as "firstNo"`;

/** Made with the first numbering. The lock is held to the commit. */
export async function lockHead(tx: Tx): Promise<Head> {
  await tx.query(`insert into event_head (group_id) values ($1::uuid) on conflict (group_id) do nothing`, [tx.groupId]);
  const rows = await tx.query<Head>(`select ${HEAD} from event_head h where h.group_id = $1::uuid for update`, [
    tx.groupId,
  ]);
  const head = rows[0];
  if (!head) throw new Error('the feed has no head row');
  return head;
}

export async function moveHead(tx: Tx, lastNo: number, lastSeq: number): Promise<void> {
  await tx.query(`update event_head h set last_no = $2::int8, last_seq = $3::int8 where h.group_id = $1::uuid`, [
    tx.groupId,
    lastNo,
    lastSeq,
  ]);
}

export interface NumberedEvent extends EventDraft {
  readonly eventNo: number;
  readonly eventId: string;
}

export async function insertEvents(tx: Tx, events: readonly NumberedEvent[], nowMs: number): Promise<void> {
  await tx.query(
    `insert into event (group_id, event_no, event_id, type, recorded_at, numbered_at, site_ids, href, data, source)
     select $1::uuid, r."eventNo", r."eventId", r.type, to_timestamp(r."recordedAtMs" / 1000), to_timestamp($3::float8 / 1000),
            r."siteIds", r.href, r.data, r.source
       from jsonb_to_recordset($2::jsonb) as r("eventNo" int8, "eventId" uuid, type text, "recordedAtMs" float8,
            "siteIds" uuid[], href text, data jsonb, source text)`,
    [tx.groupId, JSON.stringify(events), nowMs],
  );
}

export interface Standing {
  readonly lastNo: number;
  readonly firstNo: number;
  /** something is committed that has no number */
  readonly pending: boolean;
}

export async function readStanding(tx: Tx): Promise<Standing> {
  const rows = await tx.query<Standing>(
    `select coalesce(h.last_no, 0) as "lastNo", coalesce(h.first_no, 1) as "firstNo",
            g.last_seq > coalesce(h.last_seq, 0)
              or exists (select from outbox o where o.group_id = g.group_id and o.numbered_at is null) as pending
       from group_head g
       left join event_head h on h.group_id = g.group_id
      where g.group_id = $1::uuid`,
    [tx.groupId],
  );
  return rows[0] ?? { lastNo: 0, firstNo: 1, pending: false };
}

export interface EventRow {
  readonly eventNo: number;
  readonly eventId: string;
  readonly type: string;
  readonly recordedAt: Date;
  readonly siteIds: readonly string[];
  readonly href: string | null;
  readonly data: Readonly<Record<string, unknown>>;
}

export interface EventFilter {
  /** null: all */
  readonly types: readonly string[] | null;
  readonly scope: Pick<SiteScope, 'all' | 'siteIds'>;
}

/** Events after a number, up to another. Who acts at some sites gets what touches them; what is of the whole group, only who acts at all. */
export async function listEventsAfter(
  tx: Tx,
  afterNo: number,
  upToNo: number,
  { types, scope }: EventFilter,
  limit: number,
): Promise<EventRow[]> {
  return tx.query<EventRow>(
    `select e.event_no as "eventNo", e.event_id as "eventId", e.type, e.recorded_at as "recordedAt", e.site_ids as "siteIds",
            e.href, e.data
       from event e
      where e.group_id = $1::uuid and e.event_no > $2::int8 and e.event_no <= $3::int8
        and ($4::text[] is null or e.type = any($4::text[]))
        and ($5::boolean or e.site_ids && $6::uuid[])
      order by e.event_no
      limit $7::int`,
    [tx.groupId, afterNo, upToNo, types, scope.all, scope.siteIds, limit],
  );
}

/** Drops events that were numbered before then, from the oldest on, and says in the head where the feed begins now. */
export async function trimEvents(tx: Tx, beforeMs: number): Promise<void> {
  const rows = await tx.query<{ eventNo: number | null }>(
    `select max(e.event_no) as "eventNo" from event e
      where e.group_id = $1::uuid and e.numbered_at < to_timestamp($2::float8 / 1000)`,
    [tx.groupId, beforeMs],
  );
  const upToNo = rows[0]?.eventNo;
  if (upToNo === null || upToNo === undefined) return;
  await tx.query(`delete from event e where e.group_id = $1::uuid and e.event_no <= $2::int8`, [tx.groupId, upToNo]);
  await tx.query(`update event_head h set first_no = $2::int8 + 1 where h.group_id = $1::uuid`, [tx.groupId, upToNo]);
}
