-- Goods in, batches, packing runs.

create table goods_receipt (
  group_id uuid not null references groups (group_id),
  goods_receipt_id uuid not null,
  site_id uuid not null,
  supplier_id uuid not null,
  document_number text,
  occurred_at timestamptz not null,
  recorded_at timestamptz not null,
  received_by uuid not null,
  constraint goods_receipt_pkey primary key (group_id, goods_receipt_id),
  constraint goods_receipt_site_fkey foreign key (group_id, site_id) references site (group_id, site_id),
  constraint goods_receipt_supplier_fkey foreign key (group_id, supplier_id) references supplier (group_id, supplier_id)
);
select protect_group_table('goods_receipt');
grant select, insert on goods_receipt to sealtrail_app;

create table goods_receipt_line (
  group_id uuid not null,
  goods_receipt_id uuid not null,
  line_no integer not null,
  lot_id uuid not null,
  place_id uuid not null,
  quantity bigint not null check (quantity > 0),
  temperature_c numeric(5, 2),
  price_minor bigint check (price_minor >= 0),
  constraint goods_receipt_line_pkey primary key (group_id, goods_receipt_id, line_no),
  constraint goods_receipt_line_receipt_fkey foreign key (group_id, goods_receipt_id)
    references goods_receipt (group_id, goods_receipt_id),
  constraint goods_receipt_line_lot_fkey foreign key (group_id, lot_id) references lot (group_id, lot_id)
);
select protect_group_table('goods_receipt_line');
grant select, insert on goods_receipt_line to sealtrail_app;

create table batch (
  group_id uuid not null references groups (group_id),
  batch_id uuid not null,
  code text not null,
  site_id uuid not null,
  recipe_id uuid not null,
  recipe_version integer not null,
  item_id uuid not null,
  expected_yield_ppm integer not null,
  kill_step boolean not null,
  state text not null check (state in ('open', 'completed')),
  started_at timestamptz not null,
  completed_at timestamptz,
  version integer not null default 1,
  constraint batch_pkey primary key (group_id, batch_id),
  constraint batch_code_key unique (code, group_id),
  constraint batch_site_fkey foreign key (group_id, site_id) references site (group_id, site_id),
  constraint batch_recipe_fkey foreign key (group_id, recipe_id) references recipe (group_id, recipe_id)
);
create index batch_site_idx on batch (site_id, group_id, started_at, batch_id);
select protect_group_table('batch');
grant select, insert on batch to sealtrail_app;
grant update (state, completed_at, version) on batch to sealtrail_app;

create table batch_loss (
  group_id uuid not null,
  batch_id uuid not null,
  kind text not null check (kind in ('trim', 'cooking-loss', 'drip-loss', 'sample', 'other')),
  mass_mg bigint not null check (mass_mg > 0),
  constraint batch_loss_pkey primary key (group_id, batch_id, kind),
  constraint batch_loss_batch_fkey foreign key (group_id, batch_id) references batch (group_id, batch_id)
);
select protect_group_table('batch_loss');
grant select, insert on batch_loss to sealtrail_app;

create table batch_decision (
  group_id uuid not null,
  decision_id uuid not null,
  batch_id uuid not null,
  outcome text not null check (outcome in ('released', 'rejected')),
  lot_ids uuid[] not null,
  reason text,
  decided_by uuid not null,
  decided_at timestamptz not null,
  constraint batch_decision_pkey primary key (group_id, decision_id),
  constraint batch_decision_batch_fkey foreign key (group_id, batch_id) references batch (group_id, batch_id)
);
create index batch_decision_batch_idx on batch_decision (group_id, batch_id);
select protect_group_table('batch_decision');
grant select, insert on batch_decision to sealtrail_app;

create table packing_run (
  group_id uuid not null,
  packing_run_id uuid not null,
  batch_id uuid not null,
  site_id uuid not null,
  equipment_id uuid not null,
  programme text not null,
  packer_id uuid not null,
  packer_name text not null,
  started_at timestamptz not null,
  finished_at timestamptz not null,
  packs_rejected integer not null default 0 check (packs_rejected >= 0),
  constraint packing_run_pkey primary key (group_id, packing_run_id),
  constraint packing_run_batch_fkey foreign key (group_id, batch_id) references batch (group_id, batch_id),
  constraint packing_run_equipment_fkey foreign key (group_id, equipment_id) references equipment (group_id, equipment_id)
);
create index packing_run_batch_idx on packing_run (batch_id, group_id);
select protect_group_table('packing_run');
grant select, insert on packing_run to sealtrail_app;

create table packing_fill (
  group_id uuid not null,
  packing_run_id uuid not null,
  line_no integer not null,
  from_lot_id uuid not null,
  used_quantity bigint not null check (used_quantity > 0),
  pack_lot_id uuid not null,
  packs bigint not null check (packs > 0),
  changed_over_at timestamptz not null,
  constraint packing_fill_pkey primary key (group_id, packing_run_id, line_no),
  constraint packing_fill_run_fkey foreign key (group_id, packing_run_id) references packing_run (group_id, packing_run_id),
  constraint packing_fill_from_fkey foreign key (group_id, from_lot_id) references lot (group_id, lot_id),
  constraint packing_fill_pack_fkey foreign key (group_id, pack_lot_id) references lot (group_id, lot_id)
);
select protect_group_table('packing_fill');
grant select, insert on packing_fill to sealtrail_app;
