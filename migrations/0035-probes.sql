-- A thermometer was held against something that is known: ice, boiling water, a better thermometer, a laboratory. One row a point; a row is
-- never edited. What the probe is worth at a moment, and which checks a bad one puts in doubt, is worked out from these rows on reading, so a
-- calibration that is entered late counts from when it was done.
create table probe_calibration (
  group_id uuid not null references groups (group_id),
  calibration_id uuid not null,
  equipment_id uuid not null,
  -- of the equipment
  site_id uuid not null,
  occurred_at timestamptz not null,
  recorded_at timestamptz not null,
  recorded_by uuid not null,
  method text not null check (method in ('ice-point', 'boiling-point', 'reference-thermometer', 'laboratory')),
  reference_c numeric(6, 2) not null,
  measured_c numeric(6, 2) not null,
  -- how far apart they may be, and where that and the reference come from
  tolerance_c numeric(4, 2) not null check (tolerance_c > 0),
  basis jsonb not null,
  result text not null check (result in ('passed', 'failed')),
  -- the site's date; the last day on which it still counts
  next_due_on date not null,
  corrective_action text,
  document_href text,
  note text,
  -- the one that was entered wrongly, in whose place this one stands
  supersedes_calibration_id uuid,
  correction_reason text,
  constraint probe_calibration_pkey primary key (group_id, calibration_id),
  constraint probe_calibration_equipment_fkey foreign key (group_id, equipment_id) references equipment (group_id, equipment_id),
  constraint probe_calibration_site_fkey foreign key (group_id, site_id) references site (group_id, site_id),
  constraint probe_calibration_supersedes_fkey foreign key (group_id, supersedes_calibration_id)
    references probe_calibration (group_id, calibration_id),
  constraint probe_calibration_correction_whole check ((supersedes_calibration_id is null) = (correction_reason is null)),
  constraint probe_calibration_result check ((result = 'passed') = (abs(measured_c - reference_c) <= tolerance_c))
);
create index probe_calibration_equipment on probe_calibration (equipment_id, occurred_at, calibration_id, group_id);
-- One correction a calibration.
create unique index probe_calibration_supersedes on probe_calibration (supersedes_calibration_id, group_id)
  where supersedes_calibration_id is not null;
select protect_group_table('probe_calibration');
grant select, insert on probe_calibration to sealtrail_app;

-- Heat that somebody signed for may rest on a check of the batch; once that is corrected, it rests on nothing.
alter table control_factor_statement add column check_id uuid;
alter table control_factor_statement add constraint control_factor_statement_check_fkey
  foreign key (group_id, check_id) references process_check (group_id, check_id);
alter table control_factor_statement add constraint control_factor_statement_check_is_heat check (check_id is null or factor = 'heat');
create index control_factor_statement_check_idx on control_factor_statement (check_id, group_id) where check_id is not null;

-- The register of samples goes by kind; conversions of every other kind are many.
create index conversion_sample_idx on conversion (site_id, conversion_id, group_id) where kind = 'sample';
