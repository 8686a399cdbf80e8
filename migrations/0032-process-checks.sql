-- What was checked, by whom, when, with what, and what the service made of it. A record is never edited; a correction is a record of its
-- own that names the one in whose place it stands.
create table process_check (
  group_id uuid not null references groups (group_id),
  check_id uuid not null,
  site_id uuid not null,
  stage text not null,
  kind text not null,
  -- of the plan of the batch
  control_point text,
  -- what it is about; the columns below say it once more where a row of another table is meant
  about_kind text not null,
  about_id uuid not null,
  batch_id uuid,
  -- a load, packs, or any other lot
  lot_id uuid,
  packing_run_id uuid,
  goods_receipt_id uuid,
  dispatch_id uuid,
  place_id uuid,
  -- the machine that was checked
  machine_id uuid,
  -- what it was measured with
  instrument_id uuid,
  occurred_at timestamptz not null,
  -- the site's date
  occurred_on date not null,
  recorded_at timestamptz not null,
  recorded_by uuid not null,
  done_by uuid not null,
  -- a value, a sample or an answer; a series has its points beside it
  measured jsonb not null,
  -- what it was held against, as it was then, with its source
  limits jsonb not null,
  result text not null check (result in ('passed', 'failed')),
  -- why, in words, and the numbers that were reckoned
  judgement jsonb not null,
  document_href text,
  note text,
  supersedes_check_id uuid,
  correction_reason text,
  constraint process_check_pkey primary key (group_id, check_id),
  constraint process_check_site_fkey foreign key (group_id, site_id) references site (group_id, site_id),
  constraint process_check_batch_fkey foreign key (group_id, batch_id) references batch (group_id, batch_id),
  constraint process_check_lot_fkey foreign key (group_id, lot_id) references lot (group_id, lot_id),
  constraint process_check_machine_fkey foreign key (group_id, machine_id) references equipment (group_id, equipment_id),
  constraint process_check_instrument_fkey foreign key (group_id, instrument_id) references equipment (group_id, equipment_id),
  constraint process_check_supersedes_fkey foreign key (group_id, supersedes_check_id) references process_check (group_id, check_id),
  constraint process_check_correction_whole check ((supersedes_check_id is null) = (correction_reason is null))
);
create unique index process_check_supersedes_key on process_check (supersedes_check_id, group_id) where supersedes_check_id is not null;
create index process_check_batch on process_check (batch_id, occurred_at, group_id) where batch_id is not null;
create index process_check_lot on process_check (lot_id, occurred_at, group_id) where lot_id is not null;
create index process_check_run on process_check (packing_run_id, group_id) where packing_run_id is not null;
create index process_check_instrument on process_check (instrument_id, occurred_at, group_id) where instrument_id is not null;
create index process_check_machine on process_check (machine_id, occurred_at, group_id) where machine_id is not null;
-- in the order of the lists: of a site, of the whole group, and of what failed
create index process_check_site on process_check (site_id, occurred_at, check_id, group_id);
create index process_check_time on process_check (occurred_at, check_id, site_id, group_id);
create index process_check_failed on process_check (occurred_at, check_id, site_id, group_id) where result = 'failed';
select protect_group_table('process_check');
grant select, insert on process_check to sealtrail_app;

create table process_check_series (
  group_id uuid not null,
  check_id uuid not null,
  -- minutes from the first point, and degrees Celsius as measured or converted
  minutes double precision[] not null,
  temperatures_c double precision[] not null,
  constraint process_check_series_pkey primary key (group_id, check_id),
  constraint process_check_series_check_fkey foreign key (group_id, check_id) references process_check (group_id, check_id),
  constraint process_check_series_same_length check (cardinality(minutes) = cardinality(temperatures_c))
);
select protect_group_table('process_check_series');
grant select, insert on process_check_series to sealtrail_app;

-- What was done about a check that failed. The last one may say that the matter is closed.
create table corrective_action (
  group_id uuid not null references groups (group_id),
  action_id uuid not null,
  check_id uuid not null,
  action text not null,
  closes boolean not null,
  occurred_at timestamptz not null,
  recorded_at timestamptz not null,
  recorded_by uuid not null,
  action_no bigint not null generated always as identity,
  constraint corrective_action_pkey primary key (group_id, action_id),
  constraint corrective_action_check_fkey foreign key (group_id, check_id) references process_check (group_id, check_id)
);
create index corrective_action_check on corrective_action (check_id, action_no, group_id);
select protect_group_table('corrective_action');
grant select, insert on corrective_action to sealtrail_app;
