-- Requirements of sites and what is sent against them.

-- What is asked for: one row for ever for the same site, date, meal, item, texture and diets; its id follows from them.
create table requirement (
  group_id uuid not null references groups (group_id),
  requirement_id uuid not null,
  site_id uuid not null,
  service_date date not null,
  meal text not null check (meal in ('breakfast', 'lunch', 'dinner', 'other')),
  item_id uuid not null,
  texture_level smallint check (texture_level between 0 and 7),
  -- sorted, each once
  diet_codes text[] not null default '{}',
  constraint requirement_pkey primary key (group_id, requirement_id),
  constraint requirement_site_fkey foreign key (group_id, site_id) references site (group_id, site_id),
  constraint requirement_item_fkey foreign key (group_id, item_id) references item (group_id, item_id)
);
create index requirement_site_day_idx on requirement (site_id, service_date, group_id);
create index requirement_day_idx on requirement (service_date, group_id);
select protect_group_table('requirement');
grant select, insert on requirement to sealtrail_app;

-- How many portions, as often as it was said: the highest revision stands, none is edited. Two who say it at once meet at
-- the primary key, and the second starts again.
create table requirement_number (
  group_id uuid not null,
  requirement_id uuid not null,
  revision integer not null check (revision >= 1),
  fact_id uuid not null,
  -- 0: not wanted any more
  portions integer not null check (portions >= 0),
  note text,
  recorded_at timestamptz not null,
  recorded_by uuid not null,
  constraint requirement_number_pkey primary key (group_id, requirement_id, revision),
  constraint requirement_number_requirement_fkey foreign key (group_id, requirement_id)
    references requirement (group_id, requirement_id)
);
select protect_group_table('requirement_number');
grant select, insert on requirement_number to sealtrail_app;

-- Which requirement a line of a dispatch is for.
alter table dispatch_line
  add column requirement_id uuid,
  add constraint dispatch_line_requirement_fkey foreign key (group_id, requirement_id)
    references requirement (group_id, requirement_id);
create index dispatch_line_requirement_idx on dispatch_line (requirement_id, group_id) where requirement_id is not null;

-- What whoever picked could not find. The last one for a dispatch and a requirement stands.
create table short_pick (
  group_id uuid not null references groups (group_id),
  short_pick_id uuid not null,
  dispatch_id uuid not null,
  requirement_id uuid not null,
  short_portions integer not null check (short_portions >= 0),
  reason text not null,
  recorded_at timestamptz not null,
  recorded_by uuid not null,
  constraint short_pick_pkey primary key (group_id, short_pick_id),
  constraint short_pick_dispatch_fkey foreign key (group_id, dispatch_id) references dispatch (group_id, dispatch_id),
  constraint short_pick_requirement_fkey foreign key (group_id, requirement_id)
    references requirement (group_id, requirement_id)
);
create index short_pick_requirement_idx on short_pick (requirement_id, group_id);
select protect_group_table('short_pick');
grant select, insert on short_pick to sealtrail_app;
