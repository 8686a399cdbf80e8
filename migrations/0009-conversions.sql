-- Conversions at a site: opening, decanting, portioning, regenerating, freezing, thawing; samples.
-- One row says which lot became which. What it moved is in its entries; whether it stands follows from them.

create table conversion (
  group_id uuid not null references groups (group_id),
  conversion_id uuid not null,
  kind text not null check (kind in ('open', 'decant', 'portion', 'regenerate', 'cook', 'freeze', 'thaw', 'sample')),
  site_id uuid not null,
  from_lot_id uuid not null,
  from_quantity bigint not null check (from_quantity > 0),
  to_lot_id uuid not null,
  -- the scan that ends the pack, when it had a serial number
  scan_id uuid,
  -- the new lot stands where the pack stood: nobody said another place
  stays boolean not null default false,
  constraint conversion_pkey primary key (group_id, conversion_id),
  constraint conversion_site_fkey foreign key (group_id, site_id) references site (group_id, site_id),
  constraint conversion_from_fkey foreign key (group_id, from_lot_id) references lot (group_id, lot_id),
  constraint conversion_to_fkey foreign key (group_id, to_lot_id) references lot (group_id, lot_id),
  constraint conversion_scan_fkey foreign key (group_id, scan_id) references scan (group_id, scan_id),
  constraint conversion_stays_by_scan check (not stays or scan_id is not null)
);
create unique index conversion_to_key on conversion (to_lot_id, group_id);
create unique index conversion_scan_key on conversion (scan_id, group_id) where scan_id is not null;
select protect_group_table('conversion');
grant select, insert on conversion to sealtrail_app;
