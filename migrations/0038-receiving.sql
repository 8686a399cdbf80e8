-- A code is kept as it was read. A GS1 symbol names the same pack or crate as a plain label: this is what it names, as LOT, LOT/SERIAL or the
-- crate's code; null: as the code says.
alter table scan add column named text;
create index scan_crate_idx on scan (coalesce(named, code), group_id) where lot_id is null and kind = 'arrival';

-- When receipts of a site close by themselves. A row is never edited; the highest version holds.
create table site_receiving_policy (
  group_id uuid not null references groups (group_id),
  site_id uuid not null,
  version integer not null check (version > 0),
  closes_when_complete boolean not null,
  -- hours after departure; null: never by the clock
  closes_after_h integer check (closes_after_h between 1 and 720),
  note text,
  recorded_at timestamptz not null,
  recorded_by uuid not null,
  constraint site_receiving_policy_pkey primary key (group_id, site_id, version),
  constraint site_receiving_policy_site_fkey foreign key (group_id, site_id) references site (group_id, site_id)
);
select protect_group_table('site_receiving_policy');
grant select, insert on site_receiving_policy to sealtrail_app;

-- Receipts that the policy closed: nobody did.
alter table receipt add column closed_by_policy text check (closed_by_policy in ('complete', 'hours'));
