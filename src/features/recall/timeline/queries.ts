/** SQL of the timeline: every row of a case as an event. */
import type { Tx } from '../../../platform/db/db.ts';

interface EventOf<Kind extends string, Detail> {
  readonly kind: Kind;
  readonly at: Date;
  readonly recordedAt: Date;
  readonly siteId: string | null;
  readonly siteName: string | null;
  /** of a person or device that the service knows */
  readonly actorName: string | null;
  readonly factId: string | null;
  readonly detail: Detail;
}

export type EventRow =
  | EventOf<'opened', { title: string; lots: number }>
  | EventOf<'revision', { lots: number; operation: string | null }>
  | EventOf<'statement', Readonly<Record<string, unknown>>>
  | EventOf<'notice', { no: number; lots: number }>
  | EventOf<'acknowledgement', { no: number; name: string; note: string | null }>
  | EventOf<'response', { signedBy: string; outcomes: Readonly<Record<string, number>>; note: string | null }>
  | EventOf<'check', { method: string; effective: boolean; note: string | null }>
  | EventOf<'closed' | 'reopened', { note: string }>;

/** Oldest first, one more than `limit`. Revisions are read from the hold: each moment and fact that brought lots in. */
export async function listEvents(tx: Tx, recallId: string, limit: number): Promise<EventRow[]> {
  return tx.query<EventRow>(
    `with c as (
       select r.recall_id, r.hold_id, r.title, r.opened_at, r.opened_by from recall r
        where r.group_id = $1::uuid and r.recall_id = $2::uuid
     ), moment as (
       select hr.reached_at, hr.fact_id, count(*)::int as lots, min(hr.reached_at) over () as first_at
         from hold_reach hr where hr.group_id = $1::uuid and hr.hold_id = (select c.hold_id from c)
        group by hr.reached_at, hr.fact_id
     ), event (rank, kind, at, recorded_at, site_id, actor_id, fact_id, detail) as (
       select 0, 'opened', c.opened_at, c.opened_at, null::uuid, c.opened_by, c.recall_id,
              json_build_object('title', c.title, 'lots',
                (select coalesce(sum(m.lots), 0) from moment m where m.reached_at = m.first_at and m.fact_id is null))
         from c
       union all
       select 1, 'revision', m.reached_at, m.reached_at, null, f.actor_id, m.fact_id,
              json_build_object('lots', m.lots, 'operation', f.operation)
         from moment m left join fact f on f.group_id = $1::uuid and f.fact_id = m.fact_id
        where m.reached_at > m.first_at or m.fact_id is not null
       union all
       select 2, 'statement', s.said_at, s.said_at, null, s.said_by, s.statement_id, s.said::json
         from recall_statement s where s.group_id = $1::uuid and s.recall_id = $2::uuid
       union all
       select 3, 'notice', n.sent_at, n.sent_at, n.site_id, n.sent_by, null,
              json_build_object('no', n.notice_no, 'lots', n.lot_count)
         from recall_notice n where n.group_id = $1::uuid and n.recall_id = $2::uuid
       union all
       select 4, 'acknowledgement', a.acknowledged_at, a.recorded_at, n.site_id, a.recorded_by, a.acknowledgement_id,
              json_build_object('no', n.notice_no, 'name', a.name, 'note', a.note)
         from recall_notice n
         join recall_acknowledgement a on a.group_id = n.group_id and a.notice_id = n.notice_id
        where n.group_id = $1::uuid and n.recall_id = $2::uuid
       union all
       select 5, 'response', p.responded_at, p.recorded_at, p.site_id, p.recorded_by, p.response_id,
              json_build_object('signedBy', p.signed_by, 'note', p.note, 'outcomes',
                (select json_object_agg(o.outcome, o.lines) from (select rl.outcome, count(*) as lines from recall_response_line rl
                  where rl.group_id = p.group_id and rl.response_id = p.response_id group by rl.outcome) o))
         from recall_response p where p.group_id = $1::uuid and p.recall_id = $2::uuid
       union all
       select 6, 'check', k.checked_at, k.recorded_at, k.site_id, k.recorded_by, k.check_id,
              json_build_object('method', k.method, 'effective', k.effective, 'note', k.note)
         from recall_check k where k.group_id = $1::uuid and k.recall_id = $2::uuid
       union all
       select case t.kind when 'closed' then 7 else 1 end, t.kind, t.turned_at, t.turned_at, null, t.turned_by, t.turn_id, json_build_object('note', t.note)
         from recall_turn t where t.group_id = $1::uuid and t.recall_id = $2::uuid
     )
     select e.kind, e.at, e.recorded_at as "recordedAt", e.site_id as "siteId", s.name as "siteName",
            coalesce(p.name, d.name) as "actorName", e.fact_id as "factId", e.detail
       from event e
       left join site s on s.group_id = $1::uuid and s.site_id = e.site_id
       left join person p on p.group_id = $1::uuid and p.person_id = e.actor_id
       left join device d on d.group_id = $1::uuid and d.device_id = e.actor_id
      order by e.recorded_at, e.rank, s.name, e.fact_id
      limit $3::int`,
    [tx.groupId, recallId, limit + 1],
  );
}
