-- The event feed. A number is given to what is committed, never at insert: transactions commit in another order than they insert, and a
-- reader who has seen 7 would never see a 6 that commits later. Numbers are given under the lock of the group's row of event_head, so
-- they are gapless and appear in their order.

-- How far the feed is. last_seq: the last ledger entry that has a number; entries commit in the order of seq, under the group's head.
create table event_head (
  group_id uuid not null references groups (group_id),
  last_no bigint not null default 0 check (last_no >= 0),
  last_seq bigint not null default 0 check (last_seq >= 0),
  -- the oldest event that is kept
  first_no bigint not null default 1 check (first_no >= 1),
  constraint event_head_pkey primary key (group_id)
);
select protect_group_table('event_head');
grant select, insert, update (last_no, last_seq, first_no) on event_head to sealtrail_app;

-- source: 'entry|<seq>' or 'outbox|<id>|<part>'; by its key nothing gets two numbers, whatever else goes wrong.
create table event (
  group_id uuid not null references groups (group_id),
  event_no bigint not null check (event_no >= 1),
  event_id uuid not null,
  type text not null,
  recorded_at timestamptz not null,
  numbered_at timestamptz not null,
  -- empty: of the whole group
  site_ids uuid[] not null,
  href text,
  data jsonb not null,
  source text not null,
  constraint event_pkey primary key (group_id, event_no),
  constraint event_source_key unique (source, group_id)
);
create index event_numbered_idx on event (numbered_at, group_id);
select protect_group_table('event');
grant select, insert, delete on event to sealtrail_app;

alter table outbox add column numbered_at timestamptz;
create index outbox_unnumbered_idx on outbox (outbox_id, group_id) where numbered_at is null;
grant update (numbered_at) on outbox to sealtrail_app;

-- As wake_job, a while later: a job that looks again by itself.
create function wake_job_later(job text, group_id uuid, after_s integer) returns void language plpgsql as $$
begin
  if to_regnamespace('graphile_worker') is null then return; end if;
  perform graphile_worker.add_job(job, json_build_object('groupId', group_id), job_key => job || ':' || group_id,
                                  job_key_mode => 'preserve_run_at', run_at => now() + make_interval(secs => after_s));
end
$$;
