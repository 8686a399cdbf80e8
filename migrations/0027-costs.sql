-- Prices, rates, what each lot cost and since when.

-- What an invoice says a lot cost; the newest by money_no is the one. Without any, what the delivery line said is.
create table price (
  group_id uuid not null references groups (group_id),
  price_id uuid not null,
  lot_id uuid not null,
  price_minor bigint not null check (price_minor >= 0),
  -- in the lot's unit; null: for all of the lot
  per_quantity bigint check (per_quantity > 0),
  free_of_charge boolean not null,
  invoice_number text,
  reason text,
  supersedes_price_id uuid,
  money_no bigint not null,
  recorded_by uuid not null,
  recorded_at timestamptz not null,
  constraint price_pkey primary key (group_id, price_id),
  constraint price_money_key unique (group_id, money_no),
  constraint price_lot_fkey foreign key (group_id, lot_id) references lot (group_id, lot_id),
  constraint price_zero_is_free check ((price_minor = 0) = free_of_charge)
);
create index price_lot_idx on price (lot_id, group_id, money_no);
select protect_group_table('price');
grant select, insert on price to sealtrail_app;

-- What making food adds: a newer row of the same kind, site, recipe and first day takes the place of the older.
create table cost_rate (
  group_id uuid not null references groups (group_id),
  cost_rate_id uuid not null,
  kind text not null check (kind in ('labour', 'energy', 'overhead', 'packaging')),
  site_id uuid,
  recipe_id uuid,
  per_batch_minor bigint check (per_batch_minor >= 0),
  per_kg_minor bigint check (per_kg_minor >= 0),
  from_date date not null,
  through_date date,
  note text,
  money_no bigint not null,
  recorded_by uuid not null,
  recorded_at timestamptz not null,
  constraint cost_rate_pkey primary key (group_id, cost_rate_id),
  constraint cost_rate_money_key unique (group_id, money_no),
  constraint cost_rate_site_fkey foreign key (group_id, site_id) references site (group_id, site_id),
  constraint cost_rate_recipe_fkey foreign key (group_id, recipe_id) references recipe (group_id, recipe_id),
  constraint cost_rate_one_basis check ((per_batch_minor is null) <> (per_kg_minor is null)),
  constraint cost_rate_days check (through_date >= from_date)
);
select protect_group_table('cost_rate');
grant select, insert on cost_rate to sealtrail_app;

-- Cuts at which every lot's cost stands in lot_cost. Each is at or after the one before in both numbers.
create table cost_checkpoint (
  group_id uuid not null references groups (group_id),
  seq bigint not null,
  money_no bigint not null,
  made_at timestamptz not null,
  constraint cost_checkpoint_pkey primary key (group_id, seq, money_no)
);
select protect_group_table('cost_checkpoint');
grant select, insert on cost_checkpoint to sealtrail_app;

-- A row only where it changed since the checkpoint before. Fine units: 10^-18 of a minor unit, per unit of quantity.
create table lot_cost (
  group_id uuid not null,
  lot_id uuid not null,
  at_seq bigint not null,
  at_money_no bigint not null,
  unit_fine numeric(60, 0) not null check (unit_fine >= 0),
  bought_ug_per_unit numeric(40, 0) not null check (bought_ug_per_unit >= 0),
  unpriced_ppm integer not null check (unpriced_ppm between 0 and 1000000),
  -- null: everything that went in has a price
  uncosted_reason text check (uncosted_reason in
    ('no-price', 'price-zero', 'uncosted-input', 'nothing-went-in', 'made-from-itself')),
  constraint lot_cost_pkey primary key (group_id, lot_id, at_seq, at_money_no),
  constraint lot_cost_lot_fkey foreign key (group_id, lot_id) references lot (group_id, lot_id),
  constraint lot_cost_checkpoint_fkey foreign key (group_id, at_seq, at_money_no)
    references cost_checkpoint (group_id, seq, money_no)
);
select protect_group_table('lot_cost');
grant select, insert on lot_cost to sealtrail_app;

-- What a packing run took, found from the run.
create index entry_run_idx on entry (packing_run_id, group_id) where packing_run_id is not null;
