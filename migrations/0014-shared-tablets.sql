-- Shared tablets: personal PINs, badges, deputies; and on which tablet, in whose place, a fact was recorded.

-- A PIN is good on a tablet only. Its lock is its own: it does not lock the password, nor the password's the PIN.
create table person_pin (
  group_id uuid not null,
  person_id uuid not null,
  pin_hash text not null,
  failed_count integer not null default 0,
  locked_until timestamptz,
  constraint person_pin_pkey primary key (group_id, person_id),
  constraint person_pin_person_fkey foreign key (group_id, person_id) references person (group_id, person_id)
);
select protect_group_table('person_pin');
grant select, insert, update on person_pin to sealtrail_app;

-- One badge a person. A reader reads the whole of it, so a quick hash finds it; it is unique in its group.
create table person_badge (
  group_id uuid not null,
  person_id uuid not null,
  badge_hash bytea not null check (octet_length(badge_hash) = 32),
  needs_pin boolean not null default false,
  constraint person_badge_pkey primary key (group_id, person_id),
  constraint person_badge_code_key unique (group_id, badge_hash),
  constraint person_badge_person_fkey foreign key (group_id, person_id) references person (group_id, person_id)
);
select protect_group_table('person_badge');
grant select, insert, update, delete on person_badge to sealtrail_app;

-- When somebody last failed to sign in on it, oldest first: a tablet cannot be used to try everybody.
alter table device add column pin_failed_at timestamptz[] not null default '{}';
grant update (pin_failed_at) on device to sealtrail_app;

-- Who stands in for a quality lead, where, from when to when. site_id null: every site of the group.
create table deputy (
  group_id uuid not null references groups (group_id),
  deputy_id uuid not null,
  person_id uuid not null,
  role text not null check (role in ('quality')),
  site_id uuid,
  from_at timestamptz not null,
  to_at timestamptz not null,
  reason text not null,
  appointed_by uuid not null,
  appointed_at timestamptz not null,
  ended_at timestamptz,
  ended_by uuid,
  constraint deputy_pkey primary key (group_id, deputy_id),
  constraint deputy_person_fkey foreign key (group_id, person_id) references person (group_id, person_id),
  constraint deputy_site_fkey foreign key (group_id, site_id) references site (group_id, site_id),
  constraint deputy_period check (to_at > from_at and to_at <= from_at + interval '744 hours'),
  constraint deputy_end_whole check ((ended_at is null) = (ended_by is null))
);
create index deputy_person_idx on deputy (person_id, group_id);
select protect_group_table('deputy');
grant select, insert on deputy to sealtrail_app;
grant update (ended_at, ended_by) on deputy to sealtrail_app;

-- device_id (0007): the tablet that a person acted on; null when a device acts by itself, which is then the actor.
-- deputy_id: the appointment without which the actor could not have done it there.
alter table fact add column deputy_id uuid;
alter table batch_decision add column deputy_id uuid;
alter table hold add column placed_deputy_id uuid, add column lifted_deputy_id uuid;
grant update (lifted_deputy_id) on hold to sealtrail_app;
