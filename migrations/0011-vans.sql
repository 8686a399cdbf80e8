-- Vans: runs, drops and their times; what is refused and borrowed.

-- Food that was refused at a door goes back on a leg of its own; it was taken from no place, but from the van. A borrowing is
-- a dispatch that was over when it was recorded, and may not know the lender's place.
alter table dispatch
  add column borrowed boolean not null default false,
  add column refused_from_id uuid,
  add constraint dispatch_refused_from_fkey foreign key (group_id, refused_from_id) references dispatch (group_id, dispatch_id);
create index dispatch_refused_from_idx on dispatch (refused_from_id, group_id) where refused_from_id is not null;
alter table dispatch_line alter column place_id drop not null;

create table refusal (
  group_id uuid not null references groups (group_id),
  refusal_id uuid not null,
  dispatch_id uuid not null,
  return_dispatch_id uuid not null,
  reason text not null,
  occurred_at timestamptz not null,
  recorded_at timestamptz not null,
  recorded_by uuid not null,
  constraint refusal_pkey primary key (group_id, refusal_id),
  constraint refusal_dispatch_fkey foreign key (group_id, dispatch_id) references dispatch (group_id, dispatch_id),
  constraint refusal_return_fkey foreign key (group_id, return_dispatch_id) references dispatch (group_id, dispatch_id)
);
create index refusal_dispatch_idx on refusal (dispatch_id, group_id);
select protect_group_table('refusal');
grant select, insert on refusal to sealtrail_app;

create table van_run (
  group_id uuid not null references groups (group_id),
  van_run_id uuid not null,
  code text not null,
  site_id uuid not null,
  vehicle text not null,
  -- a person of the group, or a name alone: drivers come from elsewhere too
  driver_id uuid,
  driver_name text,
  planned_for timestamptz not null,
  version integer not null default 1,
  constraint van_run_pkey primary key (group_id, van_run_id),
  constraint van_run_code_key unique (code, group_id),
  constraint van_run_site_fkey foreign key (group_id, site_id) references site (group_id, site_id)
);
create index van_run_site_idx on van_run (site_id, group_id, planned_for, van_run_id);
select protect_group_table('van_run');
grant select, insert on van_run to sealtrail_app;
grant update (vehicle, driver_id, driver_name, planned_for, version) on van_run to sealtrail_app;

-- A dispatch is on one van at a time.
create table van_drop (
  group_id uuid not null,
  van_run_id uuid not null,
  position integer not null check (position > 0),
  dispatch_id uuid not null,
  constraint van_drop_pkey primary key (group_id, van_run_id, position),
  constraint van_drop_once_key unique (dispatch_id, group_id),
  constraint van_drop_run_fkey foreign key (group_id, van_run_id) references van_run (group_id, van_run_id),
  constraint van_drop_dispatch_fkey foreign key (group_id, dispatch_id) references dispatch (group_id, dispatch_id)
);
select protect_group_table('van_drop');
grant select, insert, delete on van_drop to sealtrail_app;

-- Of each of the three times the one recorded last stands; what was said before is kept.
create table drop_time (
  group_id uuid not null,
  drop_time_id uuid not null,
  van_run_id uuid not null,
  dispatch_id uuid not null,
  -- 1, 2, 3 …: in the order in which they were recorded
  position integer not null check (position > 0),
  arrived_at timestamptz,
  door_at timestamptz,
  put_away_at timestamptz,
  recorded_at timestamptz not null,
  recorded_by uuid not null,
  constraint drop_time_pkey primary key (group_id, drop_time_id),
  constraint drop_time_once_key unique (van_run_id, dispatch_id, position, group_id),
  constraint drop_time_says_something check (arrived_at is not null or door_at is not null or put_away_at is not null),
  constraint drop_time_run_fkey foreign key (group_id, van_run_id) references van_run (group_id, van_run_id),
  constraint drop_time_dispatch_fkey foreign key (group_id, dispatch_id) references dispatch (group_id, dispatch_id)
);
create index drop_time_dispatch_idx on drop_time (dispatch_id, group_id, position);
select protect_group_table('drop_time');
grant select, insert on drop_time to sealtrail_app;
