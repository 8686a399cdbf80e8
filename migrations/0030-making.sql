-- What running out costs: stated by the group, for all it serves, for a site, for an item, or for an item at a site. None is edited: the
-- newest of the most specific counts.
create table run_out_cost (
  group_id uuid not null references groups (group_id),
  run_out_cost_id uuid not null,
  -- null: everywhere
  site_id uuid,
  -- null: whatever is served
  item_id uuid,
  -- so much for per_quantity units of the item that were asked for and not there
  cost_minor bigint check (cost_minor > 0),
  per_quantity bigint not null default 1 check (per_quantity > 0),
  -- or so much of what a unit costs
  ratio_percent integer check (ratio_percent > 0),
  note text,
  recorded_at timestamptz not null,
  recorded_by uuid not null,
  -- two of one millisecond keep the order in which they came
  stated_no bigint not null generated always as identity,
  constraint run_out_cost_pkey primary key (group_id, run_out_cost_id),
  constraint run_out_cost_site_fkey foreign key (group_id, site_id) references site (group_id, site_id),
  constraint run_out_cost_item_fkey foreign key (group_id, item_id) references item (group_id, item_id),
  constraint run_out_cost_one_way check ((cost_minor is null) <> (ratio_percent is null))
);
select protect_group_table('run_out_cost');
grant select, insert on run_out_cost to sealtrail_app;
