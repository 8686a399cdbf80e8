-- Roles, row security, and what the platform itself keeps: groups, named facts, the outbox.
-- Postgres 15 or newer; nothing newer is used.

do $$
begin
  create role sealtrail_app nologin;
exception when duplicate_object or unique_violation then null;
end
$$;

do $$
begin
  -- jobs sweep over groups with this role; it sees queue tables only
  create role sealtrail_queue nologin;
exception when duplicate_object or unique_violation then null;
end
$$;

do $$
begin
  execute format('grant sealtrail_app, sealtrail_queue to %I', current_user);
exception when invalid_grant_operation or unique_violation then null;
end
$$;

revoke create on schema public from public;
grant usage on schema public to sealtrail_app, sealtrail_queue;

-- Row security by group, on every table from the first migration. Forced, so that the owner is bound as well.
create function protect_group_table(target regclass) returns void language plpgsql as $$
begin
  execute format('alter table %s enable row level security', target);
  execute format('alter table %s force row level security', target);
  execute format(
    'create policy own_group on %s using (group_id = (select nullif(current_setting(''app.group_id'', true), '''')::uuid))'
    ' with check (group_id = (select nullif(current_setting(''app.group_id'', true), '''')::uuid))', target);
end
$$;

create table groups (
  group_id uuid not null,
  code text not null,
  name text not null,
  currency text not null check (currency ~ '^[A-Z]{3}$'),
  created_at timestamptz not null,
  constraint groups_pkey primary key (group_id),
  constraint groups_code_key unique (code)
);
select protect_group_table('groups');
grant select, insert on groups to sealtrail_app;

-- One row per group; the write phase of every ledger transaction begins by updating it.
create table group_head (
  group_id uuid not null references groups (group_id),
  last_seq bigint not null default 0 check (last_seq >= 0),
  last_recorded_at timestamptz not null,
  constraint group_head_pkey primary key (group_id)
);
select protect_group_table('group_head');
grant select, insert, update on group_head to sealtrail_app;

-- A fact's id is its primary key for ever; the first answer is kept beside it.
create table fact (
  group_id uuid not null references groups (group_id),
  fact_id uuid not null,
  operation text not null,
  content jsonb not null,
  content_hash bytea not null check (octet_length(content_hash) = 32),
  site_id uuid,
  status integer not null,
  answer jsonb not null,
  location text,
  actor_id uuid not null,
  recorded_at timestamptz not null,
  constraint fact_pkey primary key (group_id, fact_id)
);
select protect_group_table('fact');
grant select, insert on fact to sealtrail_app;

-- What happened, written in the same transaction as the fact; jobs of higher features read it.
create table outbox (
  group_id uuid not null references groups (group_id),
  outbox_id bigint generated always as identity,
  topic text not null,
  payload jsonb not null,
  created_at timestamptz not null,
  constraint outbox_pkey primary key (group_id, outbox_id)
);
select protect_group_table('outbox');
grant select, insert, delete on outbox to sealtrail_app;

-- Which groups have work waiting: the only table that the sweeping role may read across groups.
create table group_queue (
  group_id uuid not null references groups (group_id),
  constraint group_queue_pkey primary key (group_id)
);
select protect_group_table('group_queue');
create policy sweep on group_queue for select to sealtrail_queue using (true);
grant select, insert on group_queue to sealtrail_app;
grant select on group_queue to sealtrail_queue;
