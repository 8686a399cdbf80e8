-- Production practice: gains, inputs that should not have gone in, clean-downs of machines, and what late facts do to thawed and raw food.

-- The process as it was when the batch was opened; null in batches from before this was kept, which go by their recipe.
alter table batch add column steps text[];

-- Water that food took up, or that was added without being kept by lot: consumed + gains = outputs + losses + unexplained.
create table batch_gain (
  group_id uuid not null,
  batch_id uuid not null,
  kind text not null check (kind in ('water-uptake', 'added-water', 'other')),
  mass_mg bigint not null check (mass_mg > 0),
  constraint batch_gain_pkey primary key (group_id, batch_id, kind),
  constraint batch_gain_batch_fkey foreign key (group_id, batch_id) references batch (group_id, batch_id)
);
select protect_group_table('batch_gain');
grant select, insert on batch_gain to sealtrail_app;

-- Inputs recorded afterwards that a request would have been refused: whatever the batch makes, before or after, is held.
create table doubtful_input (
  group_id uuid not null,
  entry_id uuid not null,
  batch_id uuid not null,
  lot_id uuid not null,
  -- in words, for the note of the hold
  reasons text[] not null check (cardinality(reasons) > 0),
  constraint doubtful_input_pkey primary key (group_id, entry_id),
  constraint doubtful_input_batch_fkey foreign key (group_id, batch_id) references batch (group_id, batch_id),
  constraint doubtful_input_lot_fkey foreign key (group_id, lot_id) references lot (group_id, lot_id)
);
create index doubtful_input_batch_idx on doubtful_input (group_id, batch_id);
select protect_group_table('doubtful_input');
grant select, insert on doubtful_input to sealtrail_app;

-- What a late input changed in what was made from it already, where no kill step lies between; null: as it was born.
alter table lot_state
  add column thaw_start_at timestamptz,
  add column handling text check (handling = 'raw');

-- Packs weighed singly are lots of their own and share what was used: a share can be less than one unit.
alter table packing_fill drop constraint packing_fill_used_quantity_check;
alter table packing_fill add constraint packing_fill_used_quantity_check check (used_quantity >= 0);
create index packing_run_machine_idx on packing_run (equipment_id, group_id, finished_at, packing_run_id);

create table clean_down (
  group_id uuid not null,
  clean_down_id uuid not null,
  equipment_id uuid not null,
  site_id uuid not null,
  -- a rinse takes off what can be seen, not an allergen
  kind text not null check (kind in ('full', 'rinse')),
  note text,
  occurred_at timestamptz not null,
  recorded_at timestamptz not null,
  recorded_by uuid not null,
  constraint clean_down_pkey primary key (group_id, clean_down_id),
  constraint clean_down_equipment_fkey foreign key (group_id, equipment_id) references equipment (group_id, equipment_id)
);
create index clean_down_machine_idx on clean_down (equipment_id, group_id, occurred_at, clean_down_id);
select protect_group_table('clean_down');
grant select, insert on clean_down to sealtrail_app;
