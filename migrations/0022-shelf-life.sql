-- What is left of the life of each part: the rules a site works by, what people signed, results, decisions.

-- Statements; the one with the highest version holds. No row: the set of the site's jurisdiction, nothing confirmed.
create table site_policy_choice (
  group_id uuid not null,
  choice_id uuid not null,
  site_id uuid not null,
  version integer not null check (version > 0),
  policy_set text not null,
  confirmed text[] not null,
  confirmed_by text not null,
  note text,
  recorded_at timestamptz not null,
  recorded_by uuid not null,
  constraint site_policy_choice_pkey primary key (group_id, choice_id),
  constraint site_policy_choice_version_key unique (site_id, version, group_id),
  constraint site_policy_choice_site_fkey foreign key (group_id, site_id) references site (group_id, site_id)
);
select protect_group_table('site_policy_choice');
grant select, insert on site_policy_choice to sealtrail_app;

-- What somebody signed about a batch: a factor that controls C. botulinum beside the cold.
create table control_factor_statement (
  group_id uuid not null,
  statement_id uuid not null,
  batch_id uuid not null,
  factor text not null check (factor in ('heat', 'ph', 'salt', 'water-activity')),
  value numeric(7, 3) not null,
  minutes numeric(7, 2),
  signed_by text not null,
  document text,
  recorded_at timestamptz not null,
  recorded_by uuid not null,
  constraint control_factor_statement_pkey primary key (group_id, statement_id),
  constraint control_factor_statement_batch_fkey foreign key (group_id, batch_id) references batch (group_id, batch_id),
  constraint control_factor_statement_minutes check ((minutes is not null) = (factor = 'heat'))
);
create index control_factor_statement_batch_idx on control_factor_statement (batch_id, group_id);
select protect_group_table('control_factor_statement');
grant select, insert on control_factor_statement to sealtrail_app;

-- An item's spoilage model, with the person who validated it for the item; the highest version holds. Without a model: withdrawn.
create table item_model_validation (
  group_id uuid not null,
  validation_id uuid not null,
  item_id uuid not null,
  version integer not null check (version > 0),
  model jsonb,
  reference_centi_c smallint,
  reference_life_h numeric(8, 2),
  validated_by text not null,
  basis text not null check (basis in ('challenge-test', 'shelf-life-study', 'published', 'from-memory')),
  document text,
  recorded_at timestamptz not null,
  recorded_by uuid not null,
  constraint item_model_validation_pkey primary key (group_id, validation_id),
  constraint item_model_validation_version_key unique (item_id, version, group_id),
  constraint item_model_validation_item_fkey foreign key (group_id, item_id) references item (group_id, item_id),
  constraint item_model_validation_whole check (num_nulls(model, reference_centi_c, reference_life_h) in (0, 3))
);
select protect_group_table('item_model_validation');
grant select, insert on item_model_validation to sealtrail_app;

-- A new row only when the date in force, the ruling limit, what forbids it or the rule version changes; the highest number holds. part_id:
-- the place or dispatch, or the batch, packing run or conversion that took it (kind taken; those pass it on to what they made).
create table shelf_life_result (
  group_id uuid not null,
  lot_id uuid not null,
  part_id uuid not null,
  result_no integer not null check (result_no > 0),
  result_id uuid not null,
  kind text not null check (kind in ('part', 'taken')),
  computed_at timestamptz not null,
  rule_version integer not null,
  -- null: nothing limits it
  effective_at timestamptz,
  ruling_code text,
  forbidden_code text,
  hold_id uuid,
  limits jsonb not null,
  inputs_hash bytea not null check (octet_length(inputs_hash) = 32),
  constraint shelf_life_result_pkey primary key (group_id, lot_id, part_id, result_no),
  constraint shelf_life_result_lot_fkey foreign key (group_id, lot_id) references lot (group_id, lot_id)
);
create index shelf_life_result_ends_idx on shelf_life_result (effective_at, group_id) where hold_id is null and kind = 'part';
select protect_group_table('shelf_life_result');
grant select, insert on shelf_life_result to sealtrail_app;

create table shelf_life_decision (
  group_id uuid not null,
  decision_id uuid not null,
  lot_id uuid not null,
  account_id uuid not null,
  kind text not null check (kind in ('accept-computed', 'lift-hold')),
  -- the date in force from then on, as it was computed
  effective_at timestamptz,
  hold_id uuid,
  -- lift-hold: the limit that is overruled for the part, as long as it comes to the same end
  limit_code text,
  limit_ends_at timestamptz,
  reason text not null,
  decided_at timestamptz not null,
  decided_by uuid not null,
  deputy_id uuid,
  constraint shelf_life_decision_pkey primary key (group_id, decision_id),
  constraint shelf_life_decision_lot_fkey foreign key (group_id, lot_id) references lot (group_id, lot_id),
  constraint shelf_life_decision_whole check ((kind = 'lift-hold') = (hold_id is not null and limit_code is not null)),
  constraint shelf_life_decision_hold_fkey foreign key (group_id, hold_id) references hold (group_id, hold_id)
);
create index shelf_life_decision_lot_idx on shelf_life_decision (lot_id, group_id);
select protect_group_table('shelf_life_decision');
grant select, insert on shelf_life_decision to sealtrail_app;

-- How far the ledger has been read for lots that moved, and by which rules everything in stock was computed.
create table shelf_life_cursor (
  group_id uuid not null references groups (group_id),
  seq bigint not null,
  limits_version integer not null,
  constraint shelf_life_cursor_pkey primary key (group_id)
);
select protect_group_table('shelf_life_cursor');
grant select, insert on shelf_life_cursor to sealtrail_app;
grant update (seq, limits_version) on shelf_life_cursor to sealtrail_app;
