-- What a packing machine is set to for a kind of food, with the reasons; what was rejected in a run and why; what showed afterwards.
create table packing_programme (
  group_id uuid not null references groups (group_id),
  programme_id uuid not null,
  code text not null,
  name text not null,
  food_type text not null,
  -- what is left of the air in the chamber when the seal is made
  vacuum_mbar integer not null check (vacuum_mbar between 1 and 1000),
  -- 1: evacuated in one go
  pulses integer not null check (pulses between 1 and 10),
  early_stop boolean not null,
  tilted_insert boolean not null,
  gentle_air_return boolean not null,
  double_seam boolean not null,
  seal_temperature_c double precision,
  seal_s double precision not null check (seal_s > 0),
  most_core_temperature_c double precision not null,
  reasons text[] not null,
  basis text not null check (basis in ('published', 'second-hand', 'common-practice', 'from-memory')),
  active boolean not null default true,
  version integer not null default 1 check (version > 0),
  constraint packing_programme_pkey primary key (group_id, programme_id),
  constraint packing_programme_code_key unique (group_id, code)
);
select protect_group_table('packing_programme');
grant select, insert on packing_programme to sealtrail_app;
grant update (name, food_type, vacuum_mbar, pulses, early_stop, tilted_insert, gentle_air_return, double_seam, seal_temperature_c, seal_s,
  most_core_temperature_c, reasons, basis, active, version) on packing_programme to sealtrail_app;

-- Every version as it was answered: a run names the one that it was packed with.
create table packing_programme_version (
  group_id uuid not null references groups (group_id),
  programme_id uuid not null,
  version integer not null,
  content jsonb not null,
  recorded_at timestamptz not null,
  recorded_by uuid not null,
  constraint packing_programme_version_pkey primary key (group_id, programme_id, version),
  constraint packing_programme_version_fkey foreign key (group_id, programme_id) references packing_programme (group_id, programme_id)
);
select protect_group_table('packing_programme_version');
grant select, insert on packing_programme_version to sealtrail_app;

-- Runs from before have the programme's name only.
alter table packing_run
  add column programme_id uuid,
  add column programme_version integer,
  add constraint packing_run_programme_whole check ((programme_id is null) = (programme_version is null)),
  add constraint packing_run_programme_fkey foreign key (group_id, programme_id, programme_version)
    references packing_programme_version (group_id, programme_id, version);
create index packing_run_site_idx on packing_run (site_id, finished_at, packing_run_id, group_id);

create table packing_reject (
  group_id uuid not null,
  packing_run_id uuid not null,
  reason text not null check (reason in ('leak', 'dirty-seal-area', 'crease', 'pierced', 'other')),
  packs integer not null check (packs > 0),
  constraint packing_reject_pkey primary key (group_id, packing_run_id, reason),
  constraint packing_reject_run_fkey foreign key (group_id, packing_run_id) references packing_run (group_id, packing_run_id)
);
select protect_group_table('packing_reject');
grant select, insert on packing_reject to sealtrail_app;

-- What showed after packing, wherever the pack was by then, tied to the run that sealed it.
create table pack_fault (
  group_id uuid not null references groups (group_id),
  fault_id uuid not null,
  -- where it was found
  site_id uuid not null,
  kind text not null check (kind in ('leaker', 're-bagged', 'complaint')),
  lot_id uuid not null,
  serial text,
  packs integer not null check (packs > 0),
  reason text,
  note text,
  packing_run_id uuid not null,
  occurred_at timestamptz not null,
  -- the date at the site where it was found
  occurred_on date not null,
  recorded_at timestamptz not null,
  recorded_by uuid not null,
  constraint pack_fault_pkey primary key (group_id, fault_id),
  constraint pack_fault_site_fkey foreign key (group_id, site_id) references site (group_id, site_id),
  constraint pack_fault_lot_fkey foreign key (group_id, lot_id) references lot (group_id, lot_id),
  constraint pack_fault_run_fkey foreign key (group_id, packing_run_id) references packing_run (group_id, packing_run_id),
  constraint pack_fault_serial_is_one check (serial is null or packs = 1)
);
create index pack_fault_run on pack_fault (packing_run_id, group_id);
create index pack_fault_lot on pack_fault (lot_id, group_id);
create index pack_fault_site on pack_fault (site_id, occurred_at, fault_id, group_id);
select protect_group_table('pack_fault');
grant select, insert on pack_fault to sealtrail_app;

-- A fault that was told wrongly or twice: it stays, and counts no longer.
create table pack_fault_withdrawal (
  group_id uuid not null references groups (group_id),
  withdrawal_id uuid not null,
  fault_id uuid not null,
  reason text not null,
  recorded_at timestamptz not null,
  recorded_by uuid not null,
  constraint pack_fault_withdrawal_pkey primary key (group_id, withdrawal_id),
  constraint pack_fault_withdrawal_fault_key unique (group_id, fault_id),
  constraint pack_fault_withdrawal_fault_fkey foreign key (group_id, fault_id) references pack_fault (group_id, fault_id)
);
select protect_group_table('pack_fault_withdrawal');
grant select, insert on pack_fault_withdrawal to sealtrail_app;
