-- How places are monitored, what each of their days came to, excursions; and what is to be recomputed.
--
-- A subject is a place, a vehicle or a crate: 'place:<uuid>', 'vehicle:<name>', 'crate:<code>'. Days are UTC.

-- Whoever changes what a day is computed from says so here, in the same transaction: insert … on conflict (group_id, subject, day) do
-- update set day = excluded.day. Never do nothing: the worker may hold the row, having read already, and is about to delete it.
create table place_day_dirty (
  group_id uuid not null references groups (group_id),
  subject text not null,
  day date not null,
  marked_at timestamptz not null default clock_timestamp(),
  constraint place_day_dirty_pkey primary key (group_id, subject, day)
);
select protect_group_table('place_day_dirty');
grant select, insert, delete on place_day_dirty to sealtrail_app;
grant update (day) on place_day_dirty to sealtrail_app;

-- Lots whose temperature history changed; read, and deleted, by whoever computes what is left of their lives. Marked like place-days.
create table lot_exposure_dirty (
  group_id uuid not null,
  lot_id uuid not null,
  marked_at timestamptz not null default clock_timestamp(),
  constraint lot_exposure_dirty_pkey primary key (group_id, lot_id),
  constraint lot_exposure_dirty_lot_fkey foreign key (group_id, lot_id) references lot (group_id, lot_id)
);
select protect_group_table('lot_exposure_dirty');
grant select, insert, delete on lot_exposure_dirty to sealtrail_app;
grant update (lot_id) on lot_exposure_dirty to sealtrail_app;

-- Statements: of those whose from_day is not after a day, the one with the latest from_day holds for it, then the highest version.
-- Where there is none, the defaults of the place's kind hold. Temperatures in hundredths of a degree.
create table place_monitoring (
  group_id uuid not null,
  place_id uuid not null,
  version integer not null check (version > 0),
  from_day date not null,
  how text not null check (how in ('sensor', 'by-hand', 'none')),
  upper_centi_c smallint not null,
  lower_centi_c smallint,
  assumed_centi_c smallint,
  between_readings text not null check (between_readings in ('step', 'line', 'warmer-end')),
  gap_min integer not null check (gap_min between 1 and 1380),
  delay_min integer not null check (delay_min between 0 and 1440),
  lag_min integer not null default 0 check (lag_min between 0 and 600),
  lag_validated_by text,
  note text,
  recorded_at timestamptz not null,
  recorded_by uuid not null,
  constraint place_monitoring_pkey primary key (group_id, place_id, version),
  constraint place_monitoring_place_fkey foreign key (group_id, place_id) references place (group_id, place_id),
  constraint place_monitoring_limits check (lower_centi_c is null or lower_centi_c < upper_centi_c),
  constraint place_monitoring_lag_validated check (lag_min = 0 or lag_validated_by is not null),
  -- with the hour within which sensors are heard together, a day depends on the readings of the day before it and on none earlier
  constraint place_monitoring_reach check (gap_min + 2 * lag_min <= 1380)
);
select protect_group_table('place_monitoring');
grant select, insert on place_monitoring to sealtrail_app;

-- The sums of one day of one subject that has readings on it: whole milliseconds at each hundredth of a degree (hist_*; the unmonitored part
-- of them once more in unseen_*), and runs above thresholds. Sums of days add, runs of days join.
create table place_day (
  group_id uuid not null references groups (group_id),
  subject text not null,
  day date not null,
  hist_centi_c smallint[] not null,
  hist_ms integer[] not null,
  unseen_centi_c smallint[] not null,
  unseen_ms integer[] not null,
  -- per threshold eight numbers: leading, trailing, longest, total ms above it as counted; the same four of what sensors saw
  threshold_centi_c smallint[] not null,
  run_ms integer[] not null,
  -- seven bytes a segment: end of it in ms of the day, hundredths of a degree, flags. air: of the air alone, where a lag stands between
  segments bytea not null,
  air bytea,
  -- the ms of the day of its last reading; what had been seen last at the end of it, and when (of several sensors the warmest of what each said
  -- last; below zero: on the day before)
  last_ms integer not null,
  seen_centi_c smallint not null,
  seen_ms integer not null,
  -- digests of what the days before and after take from this one
  edge_first text not null,
  edge_last text not null,
  monitoring_version integer not null,
  rule_version integer not null,
  computed_at timestamptz not null,
  constraint place_day_pkey primary key (group_id, subject, day)
);
create index place_day_rule_idx on place_day (rule_version, group_id);
select protect_group_table('place_day');
grant select, insert, update, delete on place_day to sealtrail_app;

-- open: it goes on in the last reading that is known; ended; superseded: later knowledge says that it was not so, or was otherwise.
-- The standing ones follow from the readings alone. Kept rows show what was believed meanwhile.
create table excursion (
  group_id uuid not null references groups (group_id),
  excursion_id uuid not null,
  subject text not null,
  side text not null check (side in ('above', 'below')),
  site_id uuid not null,
  place_id uuid,
  limit_centi_c smallint not null,
  delay_ms integer not null check (delay_ms >= 0),
  start_at timestamptz not null,
  end_at timestamptz,
  -- the time up to which it is known
  seen_to_at timestamptz not null,
  peak_centi_c smallint not null,
  peak_at timestamptz not null,
  outside_ms bigint not null check (outside_ms >= 0),
  -- hundredths of a degree beyond the limit times milliseconds
  area_centi_ms bigint not null check (area_centi_ms >= 0),
  unmonitored_ms bigint not null check (unmonitored_ms >= 0),
  suspected boolean not null,
  state text not null check (state in ('open', 'ended', 'superseded')),
  version integer not null default 1,
  first_found_at timestamptz not null,
  updated_at timestamptz not null,
  constraint excursion_pkey primary key (group_id, excursion_id),
  constraint excursion_site_fkey foreign key (group_id, site_id) references site (group_id, site_id),
  constraint excursion_place_fkey foreign key (group_id, place_id) references place (group_id, place_id),
  constraint excursion_end_by_state check (state = 'superseded' or (end_at is null) = (state = 'open'))
);
create index excursion_subject_idx on excursion (subject, group_id, start_at);
create index excursion_site_idx on excursion (site_id, group_id, start_at, excursion_id);
select protect_group_table('excursion');
grant select, insert on excursion to sealtrail_app;
grant update (site_id, limit_centi_c, delay_ms, end_at, seen_to_at, peak_centi_c, peak_at, outside_ms, area_centi_ms, unmonitored_ms,
  suspected, state, version, updated_at) on excursion to sealtrail_app;

-- What left an account from a time on: which lots stood in a place on a day. Which dispatches went with a vehicle.
create index posting_from_idx on posting (from_account_id, occurred_at) include (lot_id, group_id);
create index dispatch_vehicle_idx on dispatch (vehicle, group_id, departed_at) where vehicle is not null;
