-- Dispatches, what was found on arrival, and scans.

create table dispatch (
  group_id uuid not null references groups (group_id),
  dispatch_id uuid not null,
  code text not null,
  from_site_id uuid not null,
  to_site_id uuid not null,
  purpose text not null check (purpose in ('delivery', 'return', 'destruction')),
  state text not null check (state in ('planned', 'departed', 'closed')),
  planned_for timestamptz,
  departed_at timestamptz,
  vehicle text,
  driver_name text,
  version integer not null default 1,
  constraint dispatch_pkey primary key (group_id, dispatch_id),
  constraint dispatch_code_key unique (code, group_id),
  constraint dispatch_from_fkey foreign key (group_id, from_site_id) references site (group_id, site_id),
  constraint dispatch_to_fkey foreign key (group_id, to_site_id) references site (group_id, site_id),
  constraint dispatch_goes_somewhere check (from_site_id <> to_site_id)
);
create index dispatch_to_idx on dispatch (to_site_id, group_id, dispatch_id);
create index dispatch_from_idx on dispatch (from_site_id, group_id, dispatch_id);
select protect_group_table('dispatch');
grant select, insert on dispatch to sealtrail_app;
grant update (state, planned_for, departed_at, vehicle, driver_name, version) on dispatch to sealtrail_app;

create table dispatch_line (
  group_id uuid not null,
  dispatch_id uuid not null,
  line_no integer not null,
  lot_id uuid not null,
  place_id uuid not null,
  quantity bigint not null check (quantity > 0),
  serials text[] not null default '{}',
  crate_code text,
  constraint dispatch_line_pkey primary key (group_id, dispatch_id, line_no),
  constraint dispatch_line_dispatch_fkey foreign key (group_id, dispatch_id) references dispatch (group_id, dispatch_id),
  constraint dispatch_line_lot_fkey foreign key (group_id, lot_id) references lot (group_id, lot_id)
);
create index dispatch_line_lot_idx on dispatch_line (group_id, lot_id);
create index dispatch_line_crate_idx on dispatch_line (group_id, crate_code) where crate_code is not null;
select protect_group_table('dispatch_line');
grant select, insert, delete on dispatch_line to sealtrail_app;

create table receipt (
  group_id uuid not null,
  receipt_id uuid not null,
  dispatch_id uuid not null,
  occurred_at timestamptz not null,
  recorded_at timestamptz not null,
  received_by uuid not null,
  closes boolean not null,
  note text,
  constraint receipt_pkey primary key (group_id, receipt_id),
  constraint receipt_dispatch_fkey foreign key (group_id, dispatch_id) references dispatch (group_id, dispatch_id)
);
create index receipt_dispatch_idx on receipt (group_id, dispatch_id);
select protect_group_table('receipt');
grant select, insert on receipt to sealtrail_app;

create table receipt_line (
  group_id uuid not null,
  receipt_id uuid not null,
  line_no integer not null,
  lot_id uuid not null,
  place_id uuid not null,
  quantity bigint not null check (quantity > 0),
  condition text not null check (condition in ('accepted', 'damaged', 'too-warm')),
  temperature_c numeric(5, 2),
  constraint receipt_line_pkey primary key (group_id, receipt_id, line_no),
  constraint receipt_line_receipt_fkey foreign key (group_id, receipt_id) references receipt (group_id, receipt_id),
  constraint receipt_line_lot_fkey foreign key (group_id, lot_id) references lot (group_id, lot_id)
);
select protect_group_table('receipt_line');
grant select, insert on receipt_line to sealtrail_app;

-- Every scan as it was read. lot_id is null while its code is unknown; outcome says what it came to.
create table scan (
  group_id uuid not null references groups (group_id),
  scan_id uuid not null,
  site_id uuid not null,
  kind text not null check (kind in ('arrival', 'put-away', 'use', 'discard', 'count')),
  code text not null,
  lot_id uuid,
  serial text,
  dispatch_id uuid,
  place_id uuid,
  quantity bigint,
  condition text,
  reason text,
  destination text,
  note jsonb not null default '{}',
  occurred_at timestamptz not null,
  occurred_on date not null,
  clock_offset_ms bigint,
  recorded_at timestamptz not null,
  actor_id uuid not null,
  content_hash bytea not null,
  outcome text not null check (outcome in ('recorded', 'already-recorded', 'awaiting-identity', 'reversed')),
  constraint scan_pkey primary key (group_id, scan_id),
  constraint scan_site_fkey foreign key (group_id, site_id) references site (group_id, site_id),
  constraint scan_lot_fkey foreign key (group_id, lot_id) references lot (group_id, lot_id),
  constraint scan_identity check (outcome <> 'awaiting-identity' or lot_id is null)
);
create index scan_serial_idx on scan (group_id, lot_id, serial) where serial is not null;
create index scan_dispatch_idx on scan (group_id, dispatch_id) where dispatch_id is not null;
create index scan_waiting_idx on scan (group_id, code) where outcome = 'awaiting-identity';
select protect_group_table('scan');
grant select, insert on scan to sealtrail_app;
grant update (lot_id, serial, dispatch_id, outcome) on scan to sealtrail_app;
