-- Sites, places, equipment, suppliers, items, recipes. Rows hold today's values; catalogue_version keeps every version.

create table site (
  group_id uuid not null references groups (group_id),
  site_id uuid not null,
  code text not null,
  name text not null,
  kind text not null check (kind in ('central-kitchen', 'satellite')),
  time_zone text not null,
  jurisdiction text not null,
  gln text check (gln ~ '^[0-9]{13}$'),
  receiving_place_id uuid not null,
  quarantine_place_id uuid not null,
  version integer not null default 1,
  constraint site_pkey primary key (group_id, site_id),
  constraint site_code_key unique (group_id, code)
);
select protect_group_table('site');
grant select, insert on site to sealtrail_app;
grant update (name, gln, jurisdiction, receiving_place_id, version) on site to sealtrail_app;

create table place (
  group_id uuid not null,
  place_id uuid not null,
  site_id uuid not null,
  code text not null,
  name text not null,
  kind text not null check (kind in ('chiller', 'freezer', 'ambient-store', 'prep-area', 'vehicle')),
  quarantine boolean not null default false,
  version integer not null default 1,
  constraint place_pkey primary key (group_id, place_id),
  constraint place_code_key unique (group_id, site_id, code),
  constraint place_site_fkey foreign key (group_id, site_id) references site (group_id, site_id) deferrable initially deferred
);
alter table site add constraint site_receiving_fkey foreign key (group_id, receiving_place_id)
  references place (group_id, place_id) deferrable initially deferred;
alter table site add constraint site_quarantine_fkey foreign key (group_id, quarantine_place_id)
  references place (group_id, place_id) deferrable initially deferred;
select protect_group_table('place');
grant select, insert on place to sealtrail_app;
grant update (name, kind, version) on place to sealtrail_app;

create table equipment (
  group_id uuid not null,
  equipment_id uuid not null,
  site_id uuid not null,
  code text not null,
  name text not null,
  kind text not null check (kind in ('vacuum-packer', 'blast-chiller', 'oven', 'kettle', 'probe', 'scale', 'other')),
  active boolean not null default true,
  version integer not null default 1,
  constraint equipment_pkey primary key (group_id, equipment_id),
  constraint equipment_code_key unique (group_id, site_id, code),
  constraint equipment_site_fkey foreign key (group_id, site_id) references site (group_id, site_id)
);
select protect_group_table('equipment');
grant select, insert on equipment to sealtrail_app;
grant update (name, active, version) on equipment to sealtrail_app;

create table supplier (
  group_id uuid not null references groups (group_id),
  supplier_id uuid not null,
  code text not null,
  name text not null,
  active boolean not null default true,
  version integer not null default 1,
  constraint supplier_pkey primary key (group_id, supplier_id),
  constraint supplier_code_key unique (group_id, code)
);
select protect_group_table('supplier');
grant select, insert on supplier to sealtrail_app;
grant update (name, active, version) on supplier to sealtrail_app;

-- unit is fixed for ever; net_weight_mg is the nominal mass of one unit (mg and g items: exact by definition)
create table item (
  group_id uuid not null references groups (group_id),
  item_id uuid not null,
  code text not null,
  name text not null,
  kind text not null check (kind in ('ingredient', 'prepared', 'packed', 'packaging')),
  unit text not null check (unit in ('mg', 'g', 'ml', 'piece')),
  net_weight_mg bigint not null check (net_weight_mg > 0),
  gtin text check (gtin ~ '^[0-9]{14}$'),
  allergens text[] not null default '{}',
  may_contain text[] not null default '{}',
  handling text not null check (handling in ('raw', 'ready-to-eat')),
  storage_instruction text not null,
  life_days integer check (life_days between 1 and 3650),
  life_h integer check (life_h between 1 and 8760),
  life_anchor text check (life_anchor in ('end-of-cooking', 'first-seal', 'thaw-start', 'opening', 'production')),
  life_day_one text check (life_day_one in ('anchor-day-is-day-one', 'day-after-is-day-one')),
  opened_life_h integer check (opened_life_h between 1 and 8760),
  lot_tracked boolean not null default true,
  active boolean not null default true,
  version integer not null default 1,
  constraint item_pkey primary key (group_id, item_id),
  constraint item_code_key unique (group_id, code),
  constraint item_mass_by_unit check ((unit <> 'mg' or net_weight_mg = 1) and (unit <> 'g' or net_weight_mg = 1000)),
  constraint item_life_whole check ((life_days is null and life_h is null) or life_anchor is not null),
  constraint item_allergen_is_tracked check (lot_tracked or cardinality(allergens) = 0)
);
select protect_group_table('item');
grant select, insert on item to sealtrail_app;
grant update (name, gtin, allergens, may_contain, storage_instruction, life_days, life_h, life_anchor, life_day_one,
  opened_life_h, active, version) on item to sealtrail_app;

create table recipe (
  group_id uuid not null,
  recipe_id uuid not null,
  item_id uuid not null,
  code text not null,
  name text not null,
  expected_yield_ppm integer not null check (expected_yield_ppm between 1 and 10000000),
  steps text[] not null,
  kill_step boolean not null,
  inputs jsonb not null,
  active boolean not null default true,
  version integer not null default 1,
  constraint recipe_pkey primary key (group_id, recipe_id),
  constraint recipe_code_key unique (group_id, code),
  constraint recipe_item_fkey foreign key (group_id, item_id) references item (group_id, item_id)
);
select protect_group_table('recipe');
grant select, insert on recipe to sealtrail_app;
grant update (name, expected_yield_ppm, steps, kill_step, inputs, active, version) on recipe to sealtrail_app;

-- Every version of every row above, as it was answered. What was in force at a seq can be read back from here.
create table catalogue_version (
  group_id uuid not null references groups (group_id),
  kind text not null,
  object_id uuid not null,
  version integer not null,
  content jsonb not null,
  actor_id uuid not null,
  recorded_at timestamptz not null,
  constraint catalogue_version_pkey primary key (group_id, kind, object_id, version)
);
select protect_group_table('catalogue_version');
grant select, insert on catalogue_version to sealtrail_app;
