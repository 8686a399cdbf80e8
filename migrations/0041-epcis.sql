-- The ledger's facts as EPCIS 2.0 events: a projection that can be made again, kept because the standard's queries need an index.

-- How far the deriving is. last_seq: the last ledger entry whose events are here.
create table epcis_head (
  group_id uuid not null references groups (group_id),
  last_no bigint not null default 0 check (last_no >= 0),
  last_seq bigint not null default 0 check (last_seq >= 0),
  constraint epcis_head_pkey primary key (group_id)
);
select protect_group_table('epcis_head');
grant select, insert, update (last_no, last_seq) on epcis_head to sealtrail_app;

-- event_no: in the order in which events were derived, gapless. An event that is declared wrong is there twice, with one event_id: as it
-- was, and again with its error declaration. source: the fact and the part of it; by its key nothing is derived twice.
create table epcis_event (
  group_id uuid not null references groups (group_id),
  event_no bigint not null check (event_no >= 1),
  event_id text not null,
  source text not null,
  -- who may see it: those who act at one of these sites
  site_ids uuid[] not null,
  lot_ids uuid[] not null,
  dispatch_id uuid,
  type text not null
    check (type in ('ObjectEvent', 'AggregationEvent', 'TransactionEvent', 'TransformationEvent', 'AssociationEvent')),
  action text check (action in ('ADD', 'OBSERVE', 'DELETE')),
  event_time timestamptz not null,
  record_time timestamptz not null,
  biz_step text,
  disposition text,
  dispositions_set text[] not null default '{}',
  dispositions_unset text[] not null default '{}',
  read_point text,
  biz_location text,
  transformation_id text,
  parent text,
  -- epcList and childEPCs
  epcs text[] not null default '{}',
  input_epcs text[] not null default '{}',
  output_epcs text[] not null default '{}',
  -- quantityList and childQuantityList
  classes text[] not null default '{}',
  input_classes text[] not null default '{}',
  output_classes text[] not null default '{}',
  error_declared_at timestamptz,
  error_reason text,
  corrective_event_ids text[] not null default '{}',
  -- the event as it is answered, without recordTime
  body jsonb not null,
  constraint epcis_event_pkey primary key (group_id, event_no),
  constraint epcis_event_source_key unique (source, group_id)
);
create index epcis_event_id_idx on epcis_event (event_id, group_id);
create index epcis_event_time_idx on epcis_event (event_time, group_id, event_no);
create index epcis_event_dispatch_idx on epcis_event (dispatch_id, group_id) where dispatch_id is not null;
create index epcis_event_lots_idx on epcis_event using gin (lot_ids);
create index epcis_event_things_idx on epcis_event using gin (
  (epcs || input_epcs || output_epcs || classes || input_classes || output_classes)
);
select protect_group_table('epcis_event');
grant select, insert on epcis_event to sealtrail_app;

-- Days of places that were told. A day is told again (its next version) when readings that came later change what it reports.
create table epcis_place_day (
  group_id uuid not null references groups (group_id),
  place_id uuid not null,
  day date not null,
  version integer not null check (version >= 0),
  -- of the place_day that was looked at last
  computed_at timestamptz not null,
  constraint epcis_place_day_pkey primary key (group_id, place_id, day)
);
select protect_group_table('epcis_place_day');
grant select, insert, update (version, computed_at) on epcis_place_day to sealtrail_app;

-- Crates put into crates, or taken out, that were told.
create table epcis_placement (
  group_id uuid not null references groups (group_id),
  crate_placement_id uuid not null,
  constraint epcis_placement_pkey primary key (group_id, crate_placement_id)
);
select protect_group_table('epcis_placement');
grant select, insert on epcis_placement to sealtrail_app;
