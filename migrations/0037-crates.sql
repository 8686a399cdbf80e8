-- Crates (logistic units): SSCCs without collisions, crates in crates, boxes that come back.
alter table groups add column gs1_company_prefix text check (gs1_company_prefix ~ '^[0-9]{4,12}$');
grant update (gs1_company_prefix) on groups to sealtrail_app;

-- One row per company prefix and extension digit. last_serial: the highest serial reference that was given, -1 when none was. It only
-- grows, so a number is never given twice; what a failed request took is given to the next.
create table sscc_range (
  group_id uuid not null references groups (group_id),
  sscc_range_id uuid not null,
  company_prefix text not null check (company_prefix ~ '^[0-9]{4,12}$'),
  extension_digit smallint not null check (extension_digit between 0 and 9),
  first_serial bigint not null check (first_serial >= 0),
  last_serial bigint not null check (last_serial >= first_serial - 1),
  -- ranges are used up in this order
  position integer not null check (position > 0),
  added_at timestamptz not null,
  constraint sscc_range_pkey primary key (group_id, sscc_range_id),
  constraint sscc_range_once_key unique (company_prefix, extension_digit, group_id),
  constraint sscc_range_position_key unique (position, group_id)
);
select protect_group_table('sscc_range');
grant select, insert on sscc_range to sealtrail_app;
grant update (last_serial) on sscc_range to sealtrail_app;

create table box_type (
  group_id uuid not null references groups (group_id),
  box_type_id uuid not null,
  code text not null,
  name text not null,
  constraint box_type_pkey primary key (group_id, box_type_id),
  constraint box_type_code_key unique (code, group_id)
);
select protect_group_table('box_type');
grant select, insert on box_type to sealtrail_app;

-- code: what is on its label and what a dispatch line calls it: the SSCC, or a code of the group's own.
create table crate (
  group_id uuid not null references groups (group_id),
  crate_id uuid not null,
  code text not null,
  sscc text check (sscc ~ '^[0-9]{18}$'),
  kind text not null check (kind in ('crate', 'roll-cage', 'pallet')),
  box_type_id uuid,
  site_id uuid not null,
  -- the request that made it, and its place in it
  order_id uuid not null,
  position integer not null check (position > 0),
  made_at timestamptz not null,
  made_by uuid not null,
  constraint crate_pkey primary key (group_id, crate_id),
  constraint crate_code_key unique (code, group_id),
  constraint crate_order_key unique (order_id, position, group_id),
  constraint crate_sscc_is_code check (sscc is null or sscc = code),
  constraint crate_site_fkey foreign key (group_id, site_id) references site (group_id, site_id),
  constraint crate_box_type_fkey foreign key (group_id, box_type_id) references box_type (group_id, box_type_id)
);
create index crate_site_idx on crate (site_id, group_id, crate_id);
select protect_group_table('crate');
grant select, insert on crate to sealtrail_app;

-- A crate goes into another one, or (null) out of the one that it is in. What is in what at a time follows from the latest until then.
create table crate_placement (
  group_id uuid not null references groups (group_id),
  crate_placement_id uuid not null,
  crate_id uuid not null,
  into_crate_id uuid,
  site_id uuid not null,
  occurred_at timestamptz not null,
  recorded_at timestamptz not null,
  recorded_by uuid not null,
  constraint crate_placement_pkey primary key (group_id, crate_placement_id),
  constraint crate_placement_crate_fkey foreign key (group_id, crate_id) references crate (group_id, crate_id),
  constraint crate_placement_into_fkey foreign key (group_id, into_crate_id) references crate (group_id, crate_id),
  constraint crate_placement_site_fkey foreign key (group_id, site_id) references site (group_id, site_id),
  constraint crate_placement_in_another check (crate_id <> into_crate_id)
);
create index crate_placement_crate_idx on crate_placement (crate_id, occurred_at, crate_placement_id, group_id);
create index crate_placement_into_idx on crate_placement (into_crate_id, group_id) where into_crate_id is not null;
select protect_group_table('crate_placement');
grant select, insert on crate_placement to sealtrail_app;

-- What somebody counted of one kind of box at one site.
create table box_count (
  group_id uuid not null references groups (group_id),
  box_count_id uuid not null,
  site_id uuid not null,
  box_type_id uuid not null,
  quantity integer not null check (quantity >= 0),
  occurred_at timestamptz not null,
  recorded_at timestamptz not null,
  recorded_by uuid not null,
  constraint box_count_pkey primary key (group_id, box_count_id),
  constraint box_count_site_fkey foreign key (group_id, site_id) references site (group_id, site_id),
  constraint box_count_type_fkey foreign key (group_id, box_type_id) references box_type (group_id, box_type_id)
);
create index box_count_site_idx on box_count (site_id, box_type_id, occurred_at, group_id);
select protect_group_table('box_count');
grant select, insert on box_count to sealtrail_app;

-- Boxes that went without food, or came from or went to outside (null). Those that leave with food follow from its dispatch.
create table box_movement (
  group_id uuid not null references groups (group_id),
  box_movement_id uuid not null,
  box_type_id uuid not null,
  from_site_id uuid,
  to_site_id uuid,
  supplier_id uuid,
  dispatch_id uuid,
  quantity integer not null check (quantity > 0),
  note text,
  occurred_at timestamptz not null,
  recorded_at timestamptz not null,
  recorded_by uuid not null,
  constraint box_movement_pkey primary key (group_id, box_movement_id),
  constraint box_movement_type_fkey foreign key (group_id, box_type_id) references box_type (group_id, box_type_id),
  constraint box_movement_from_fkey foreign key (group_id, from_site_id) references site (group_id, site_id),
  constraint box_movement_to_fkey foreign key (group_id, to_site_id) references site (group_id, site_id),
  constraint box_movement_supplier_fkey foreign key (group_id, supplier_id) references supplier (group_id, supplier_id),
  constraint box_movement_dispatch_fkey foreign key (group_id, dispatch_id) references dispatch (group_id, dispatch_id),
  constraint box_movement_goes_somewhere check (from_site_id is distinct from to_site_id)
);
create index box_movement_from_idx on box_movement (from_site_id, group_id) where from_site_id is not null;
create index box_movement_to_idx on box_movement (to_site_id, group_id) where to_site_id is not null;
select protect_group_table('box_movement');
grant select, insert on box_movement to sealtrail_app;
