-- Quantity as double entry: lots, accounts, entries, postings, balances; and what hangs on a lot: edges, holds, findings.
-- The application role may not update or delete entry, posting, lot, hold_reach or fact.
--
-- Primary keys begin with the group. Other whole-table indexes of entry, lot and account do not: while a table is young and
-- has no statistics, Postgres takes any index that begins with group_id for a foreign key's look-up by (group_id, id), reads
-- the whole group for each row, and keeps that plan (seen: 41 million index rows for 9,000 look-ups).

create table account (
  group_id uuid not null references groups (group_id),
  account_id uuid not null,
  kind text not null check (kind in ('place', 'transit', 'place-shortfall', 'transit-shortfall',
    'supplier', 'consumed', 'produced', 'served', 'waste', 'variance')),
  site_id uuid not null,
  -- transit: the site it is going to (site_id is where it came from)
  to_site_id uuid,
  -- a shortfall account is the twin of this place or transit account
  twin_of uuid,
  -- +1 never below zero, -1 never above, 0 either
  sign smallint not null,
  constraint account_pkey primary key (group_id, account_id),
  constraint account_sign_key unique (group_id, account_id, sign),
  constraint account_twin_key unique (twin_of, group_id),
  constraint account_site_fkey foreign key (group_id, site_id) references site (group_id, site_id) deferrable initially deferred,
  constraint account_sign_by_kind check (sign = case
    when kind in ('place', 'transit') then 1 when kind like '%-shortfall' then -1 else 0 end),
  constraint account_twin_by_kind check ((twin_of is not null) = (kind like '%-shortfall'))
);
create unique index account_outside_key on account (group_id, site_id, kind) where sign = 0;
select protect_group_table('account');
grant select, insert on account to sealtrail_app;

create table lot (
  group_id uuid not null references groups (group_id),
  lot_id uuid not null,
  code text not null,
  item_id uuid not null,
  unit text not null,
  -- quantity and mass at birth: q units weigh exactly q x mass_mg / quantity
  quantity bigint not null check (quantity > 0),
  mass_mg bigint not null check (mass_mg > 0),
  origin text not null check (origin in ('supplied', 'produced', 'packed', 'pseudo')),
  site_id uuid not null,
  serialised boolean not null default false,
  born_at timestamptz not null,
  handling text not null,
  storage_instruction text not null,
  printed_use_by_at timestamptz,
  printed_use_by_date date,
  use_by_basis jsonb not null,
  anchors jsonb not null default '{}',
  allergens text[] not null,
  may_contain text[] not null,
  supplier_id uuid,
  supplier_lot_code text,
  goods_receipt_id uuid,
  batch_id uuid,
  load_no integer,
  packing_run_id uuid,
  constraint lot_pkey primary key (group_id, lot_id),
  constraint lot_code_key unique (code, group_id),
  constraint lot_item_fkey foreign key (group_id, item_id) references item (group_id, item_id),
  constraint lot_site_fkey foreign key (group_id, site_id) references site (group_id, site_id),
  constraint lot_supplier_fkey foreign key (group_id, supplier_id) references supplier (group_id, supplier_id)
);
create index lot_item_idx on lot (item_id, group_id, lot_id);
create index lot_batch_idx on lot (group_id, batch_id) where batch_id is not null;
create index lot_run_idx on lot (group_id, packing_run_id) where packing_run_id is not null;
create index lot_supplier_idx on lot (group_id, supplier_lot_code, supplier_id) where supplier_lot_code is not null;
select protect_group_table('lot');
grant select, insert on lot to sealtrail_app;

-- What is in force for a lot now: a projection that only tightens by itself. Its history is in lot_change.
create table lot_state (
  group_id uuid not null,
  lot_id uuid not null,
  use_by_at timestamptz not null default 'infinity',
  use_by_date date,
  allergens text[] not null,
  may_contain text[] not null,
  constraint lot_state_pkey primary key (group_id, lot_id),
  constraint lot_state_lot_fkey foreign key (group_id, lot_id) references lot (group_id, lot_id)
);
select protect_group_table('lot_state');
grant select, insert, update on lot_state to sealtrail_app;

create table lot_change (
  group_id uuid not null,
  lot_id uuid not null,
  change_id uuid not null,
  kind text not null check (kind in ('use-by-earlier', 'allergens-added')),
  detail jsonb not null,
  cause_lot_id uuid,
  actor_id uuid not null,
  recorded_at timestamptz not null,
  constraint lot_change_pkey primary key (group_id, lot_id, change_id),
  constraint lot_change_lot_fkey foreign key (group_id, lot_id) references lot (group_id, lot_id)
);
select protect_group_table('lot_change');
grant select, insert on lot_change to sealtrail_app;

create table entry (
  group_id uuid not null references groups (group_id),
  seq bigint not null,
  entry_id uuid not null,
  kind text not null check (kind in ('opening-stock', 'goods-receipt', 'batch-input', 'batch-output', 'packing', 'move',
    'dispatch', 'receipt', 'use', 'discard', 'return', 'stock-count', 'reversal')),
  fact_id uuid not null,
  site_id uuid not null,
  occurred_at timestamptz not null,
  occurred_on date not null,
  recorded_at timestamptz not null,
  actor_id uuid not null,
  clock_offset_ms bigint,
  content_hash bytea not null check (octet_length(content_hash) = 32),
  leaf_hash bytea not null check (octet_length(leaf_hash) = 32),
  reverses_entry_id uuid,
  batch_id uuid,
  packing_run_id uuid,
  dispatch_id uuid,
  count_id uuid,
  scan_id uuid,
  note jsonb not null default '{}',
  constraint entry_pkey primary key (group_id, seq),
  constraint entry_id_key unique (entry_id, group_id),
  constraint entry_site_fkey foreign key (group_id, site_id) references site (group_id, site_id),
  constraint entry_reverses_fkey foreign key (group_id, reverses_entry_id) references entry (group_id, entry_id),
  constraint entry_reversal_by_kind check ((kind = 'reversal') = (reverses_entry_id is not null))
);
create unique index entry_reversed_once_key on entry (group_id, reverses_entry_id) where reverses_entry_id is not null;
create index entry_fact_idx on entry (fact_id, group_id);
create index entry_batch_idx on entry (group_id, batch_id) where batch_id is not null;
create index entry_dispatch_idx on entry (group_id, dispatch_id) where dispatch_id is not null;
create index entry_count_idx on entry (group_id, count_id) where count_id is not null;
create index entry_scan_idx on entry (group_id, scan_id) where scan_id is not null;
select protect_group_table('entry');
grant select, insert on entry to sealtrail_app;

-- occurred_at, occurred_on and kind are the entry's, copied so that a lot's history and a month need no join.
create table posting (
  group_id uuid not null,
  seq bigint not null,
  line_no integer not null,
  lot_id uuid not null,
  from_account_id uuid not null,
  to_account_id uuid not null,
  quantity bigint not null check (quantity > 0),
  basis text not null check (basis in ('weighed', 'counted', 'from-recipe', 'estimated', 'derived')),
  reason text,
  destination text,
  occurred_at timestamptz not null,
  occurred_on date not null,
  constraint posting_pkey primary key (group_id, seq, line_no),
  constraint posting_entry_fkey foreign key (group_id, seq) references entry (group_id, seq),
  constraint posting_lot_fkey foreign key (group_id, lot_id) references lot (group_id, lot_id),
  constraint posting_from_fkey foreign key (group_id, from_account_id) references account (group_id, account_id),
  constraint posting_to_fkey foreign key (group_id, to_account_id) references account (group_id, account_id),
  constraint posting_moves check (from_account_id <> to_account_id)
);
create index posting_lot_idx on posting (group_id, lot_id, occurred_at) include (from_account_id, to_account_id, quantity, seq);
create index posting_day_idx on posting (group_id, occurred_on) include (lot_id, from_account_id, to_account_id, quantity, reason);
select protect_group_table('posting');
grant select, insert on posting to sealtrail_app;

-- The current quantity of one lot in one account, updated in the same transaction; never kept on history rows.
create table balance (
  group_id uuid not null,
  lot_id uuid not null,
  account_id uuid not null,
  sign smallint not null,
  quantity bigint not null,
  constraint balance_pkey primary key (group_id, lot_id, account_id),
  constraint balance_lot_fkey foreign key (group_id, lot_id) references lot (group_id, lot_id),
  constraint balance_account_fkey foreign key (group_id, account_id, sign) references account (group_id, account_id, sign),
  constraint balance_sign check (quantity * sign >= 0)
);
create index balance_account_idx on balance (group_id, account_id) include (lot_id, quantity) where quantity <> 0;
select protect_group_table('balance');
grant select, insert, update on balance to sealtrail_app;

-- Membership only: who went into whom, through which batch or packing run. A projection for walking, both ways covered.
create table lot_edge (
  group_id uuid not null,
  parent_lot_id uuid not null,
  child_lot_id uuid not null,
  process_id uuid not null,
  -- a passing kill step between them lifts the parent's date off the child
  caps_use_by boolean not null,
  constraint lot_edge_pkey primary key (group_id, parent_lot_id, child_lot_id, process_id),
  constraint lot_edge_parent_fkey foreign key (group_id, parent_lot_id) references lot (group_id, lot_id),
  constraint lot_edge_child_fkey foreign key (group_id, child_lot_id) references lot (group_id, lot_id),
  constraint lot_edge_not_itself check (parent_lot_id <> child_lot_id)
);
create index lot_edge_child_idx on lot_edge (group_id, child_lot_id, parent_lot_id) include (process_id);
select protect_group_table('lot_edge');
grant select, insert, delete on lot_edge to sealtrail_app;

create table hold (
  group_id uuid not null references groups (group_id),
  hold_id uuid not null,
  kind text not null,
  lot_id uuid not null,
  -- neither: everywhere; site_id: at one site; account_id: in one place or dispatch
  site_id uuid,
  account_id uuid,
  propagates boolean not null,
  note text,
  placed_at timestamptz not null,
  placed_by uuid not null,
  lifted_at timestamptz,
  lifted_by uuid,
  lift_note text,
  constraint hold_pkey primary key (group_id, hold_id),
  constraint hold_lot_fkey foreign key (group_id, lot_id) references lot (group_id, lot_id),
  constraint hold_account_fkey foreign key (group_id, account_id) references account (group_id, account_id),
  constraint hold_one_scope check (site_id is null or account_id is null),
  constraint hold_local_stays check (not propagates or (site_id is null and account_id is null)),
  constraint hold_lift_whole check ((lifted_at is null) = (lifted_by is null))
);
create index hold_lot_idx on hold (lot_id, group_id);
select protect_group_table('hold');
grant select, insert on hold to sealtrail_app;
grant update (lifted_at, lifted_by, lift_note) on hold to sealtrail_app;

-- Every lot that a hold reaches, with the lot through which it came.
create table hold_reach (
  group_id uuid not null,
  hold_id uuid not null,
  lot_id uuid not null,
  cause_lot_id uuid,
  reached_at timestamptz not null,
  constraint hold_reach_pkey primary key (group_id, hold_id, lot_id),
  constraint hold_reach_hold_fkey foreign key (group_id, hold_id) references hold (group_id, hold_id),
  constraint hold_reach_lot_fkey foreign key (group_id, lot_id) references lot (group_id, lot_id)
);
create index hold_reach_lot_idx on hold_reach (group_id, lot_id);
select protect_group_table('hold_reach');
grant select, insert on hold_reach to sealtrail_app;

create table finding (
  group_id uuid not null references groups (group_id),
  finding_id uuid not null,
  kind text not null,
  -- what it is about, so that the same fact in any order makes the same finding once
  subject text not null,
  site_id uuid not null,
  lot_id uuid,
  quantity bigint,
  detail jsonb not null,
  occurred_at timestamptz not null,
  recorded_at timestamptz not null,
  -- open; settled by a person; cleared by a later fact
  status text not null default 'open' check (status in ('open', 'settled', 'cleared')),
  settled_by uuid,
  settled_at timestamptz,
  settlement_note text,
  version integer not null default 1,
  constraint finding_pkey primary key (group_id, finding_id),
  constraint finding_lot_fkey foreign key (group_id, lot_id) references lot (group_id, lot_id),
  constraint finding_site_fkey foreign key (group_id, site_id) references site (group_id, site_id)
);
create unique index finding_open_key on finding (group_id, kind, subject) where status = 'open';
create index finding_site_idx on finding (group_id, site_id, recorded_at) where status = 'open';
select protect_group_table('finding');
grant select, insert on finding to sealtrail_app;
grant update (quantity, detail, status, settled_by, settled_at, settlement_note, version) on finding to sealtrail_app;

-- A count asserts a balance at its time; later facts that happened earlier adjust the next count after them.
create table count_line (
  group_id uuid not null,
  count_id uuid not null,
  lot_id uuid not null,
  account_id uuid not null,
  occurred_at timestamptz not null,
  counted bigint not null check (counted >= 0),
  constraint count_line_pkey primary key (group_id, count_id, lot_id, account_id),
  constraint count_line_lot_fkey foreign key (group_id, lot_id) references lot (group_id, lot_id),
  constraint count_line_account_fkey foreign key (group_id, account_id) references account (group_id, account_id)
);
create index count_line_part_idx on count_line (group_id, lot_id, account_id, occurred_at, count_id);
select protect_group_table('count_line');
grant select, insert on count_line to sealtrail_app;
