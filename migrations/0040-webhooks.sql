-- Webhooks: events of the feed, sent to whoever asked, by the Standard Webhooks specification.

create table webhook (
  group_id uuid not null references groups (group_id),
  webhook_id uuid not null,
  url text not null,
  description text not null,
  -- null: all types
  types text[],
  -- null: all sites; otherwise those that whoever made it could see
  site_ids uuid[],
  state text not null check (state in ('enabled', 'disabled')),
  disabled_reason text,
  -- the last event that was looked at; what it wants of those has a delivery
  last_no bigint not null check (last_no >= 0),
  -- attempts that failed since the last that did not; it rests the longer the more there are
  failures integer not null default 0 check (failures >= 0),
  rest_until timestamptz,
  created_at timestamptz not null,
  created_by uuid not null,
  version integer not null default 1,
  constraint webhook_pkey primary key (group_id, webhook_id),
  constraint webhook_reason_when_disabled check ((state = 'disabled') = (disabled_reason is not null))
);
select protect_group_table('webhook');
grant select, insert, update (url, description, types, state, disabled_reason, last_no, failures, rest_until, version)
  on webhook to sealtrail_app;

-- sealed: AES-256-GCM; the key follows from the service's secret and is not in the database.
create table webhook_secret (
  group_id uuid not null,
  webhook_id uuid not null,
  secret_no integer not null check (secret_no >= 1),
  sealed bytea not null,
  made_at timestamptz not null,
  ends_at timestamptz,
  constraint webhook_secret_pkey primary key (group_id, webhook_id, secret_no),
  constraint webhook_secret_webhook_fkey foreign key (group_id, webhook_id) references webhook (group_id, webhook_id)
);
select protect_group_table('webhook_secret');
grant select, insert, update (ends_at) on webhook_secret to sealtrail_app;

create table webhook_delivery (
  group_id uuid not null,
  webhook_id uuid not null,
  delivery_no bigint generated always as identity,
  -- null: a test
  event_no bigint,
  message_id uuid not null,
  replay_id uuid,
  state text not null check (state in ('waiting', 'delivered', 'given-up')),
  attempts integer not null default 0 check (attempts >= 0),
  made_at timestamptz not null,
  due_at timestamptz not null,
  -- somebody is sending it until then; whoever dies meanwhile leaves it to others
  claimed_until timestamptz,
  ended_at timestamptz,
  constraint webhook_delivery_pkey primary key (group_id, webhook_id, delivery_no),
  constraint webhook_delivery_webhook_fkey foreign key (group_id, webhook_id) references webhook (group_id, webhook_id)
);
create index webhook_delivery_due_idx on webhook_delivery (webhook_id, due_at, delivery_no, group_id) where state = 'waiting';
select protect_group_table('webhook_delivery');
grant select, insert, delete, update (state, attempts, due_at, claimed_until, ended_at) on webhook_delivery to sealtrail_app;

create table webhook_attempt (
  group_id uuid not null,
  webhook_id uuid not null,
  delivery_no bigint not null,
  attempt_no integer not null check (attempt_no >= 1),
  started_at timestamptz not null,
  took_ms integer not null check (took_ms >= 0),
  status integer,
  problem text,
  constraint webhook_attempt_pkey primary key (group_id, webhook_id, delivery_no, attempt_no),
  constraint webhook_attempt_delivery_fkey foreign key (group_id, webhook_id, delivery_no)
    references webhook_delivery (group_id, webhook_id, delivery_no) on delete cascade
);
select protect_group_table('webhook_attempt');
grant select, insert on webhook_attempt to sealtrail_app;

create table webhook_replay (
  group_id uuid not null,
  replay_id uuid not null,
  webhook_id uuid not null,
  after_no bigint not null,
  up_to_no bigint not null,
  types text[],
  deliveries integer not null,
  asked_at timestamptz not null,
  asked_by uuid not null,
  constraint webhook_replay_pkey primary key (group_id, replay_id),
  constraint webhook_replay_webhook_fkey foreign key (group_id, webhook_id) references webhook (group_id, webhook_id)
);
select protect_group_table('webhook_replay');
grant select, insert on webhook_replay to sealtrail_app;
