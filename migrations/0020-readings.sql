-- Sensors, where they are over time, readings, and long uploads of them.

-- Readings are many: they carry numbers of four bytes in place of the ids of their group and sensor.
alter table groups add column group_no integer generated always as identity;
alter table groups add constraint groups_no_key unique (group_no);

-- As protect_group_table, for a table that knows its group by its number.
create function protect_group_no_table(target regclass) returns void language plpgsql as $$
begin
  execute format('alter table %s enable row level security', target);
  execute format('alter table %s force row level security', target);
  execute format(
    'create policy own_group on %s using (group_no = (select g.group_no from groups g'
    ' where g.group_id = (select nullif(current_setting(''app.group_id'', true), '''')::uuid)))'
    ' with check (group_no = (select g.group_no from groups g'
    ' where g.group_id = (select nullif(current_setting(''app.group_id'', true), '''')::uuid)))', target);
end
$$;

-- device_id null: any device of the site, and people, may send its readings.
create table sensor (
  group_id uuid not null references groups (group_id),
  sensor_id uuid not null,
  sensor_no integer generated always as identity,
  site_id uuid not null,
  code text not null,
  name text not null,
  kind text not null check (kind in ('air', 'simulant', 'between-packs')),
  device_id uuid,
  active boolean not null default true,
  version integer not null default 1,
  constraint sensor_pkey primary key (group_id, sensor_id),
  constraint sensor_no_key unique (sensor_no),
  constraint sensor_code_key unique (code, group_id),
  constraint sensor_site_fkey foreign key (group_id, site_id) references site (group_id, site_id),
  constraint sensor_device_fkey foreign key (group_id, device_id) references device (group_id, device_id)
);
select protect_group_table('sensor');
grant select, insert on sensor to sealtrail_app;
grant update (name, active, device_id, version) on sensor to sealtrail_app;

-- "From this time it is there"; the next statement ends it. None of the three: not in use. Two of one time: the later recorded stands.
create table sensor_location (
  group_id uuid not null references groups (group_id),
  location_id uuid not null,
  sensor_id uuid not null,
  -- in the order in which they were recorded
  statement_no integer not null,
  from_at timestamptz not null,
  place_id uuid,
  vehicle text,
  crate_code text,
  recorded_at timestamptz not null,
  recorded_by uuid not null,
  constraint sensor_location_pkey primary key (group_id, location_id),
  constraint sensor_location_sensor_fkey foreign key (group_id, sensor_id) references sensor (group_id, sensor_id),
  constraint sensor_location_place_fkey foreign key (group_id, place_id) references place (group_id, place_id),
  constraint sensor_location_statement_key unique (sensor_id, group_id, statement_no),
  constraint sensor_location_one check (num_nonnulls(place_id, vehicle, crate_code) <= 1)
);
create index sensor_location_sensor_idx on sensor_location (sensor_id, group_id, from_at);
create index sensor_location_place_idx on sensor_location (place_id, group_id) where place_id is not null;
create index sensor_location_vehicle_idx on sensor_location (vehicle, group_id) where vehicle is not null;
create index sensor_location_crate_idx on sensor_location (crate_code, group_id) where crate_code is not null;
select protect_group_table('sensor_location');
grant select, insert on sensor_location to sealtrail_app;

-- A set: two values at one time are both kept. No foreign keys: sensors are never deleted, and each reading would pay for the check.
-- time_doubt: nobody has said yet that the sensor's own clock was right. One sending that says so settles it, in any order.
create table reading (
  group_no integer not null,
  sensor_no integer not null,
  at timestamptz not null,
  recorded_at timestamptz not null,
  centi_c smallint not null check (centi_c between -6000 and 15000),
  time_doubt boolean not null,
  constraint reading_pkey primary key (group_no, sensor_no, at, centi_c)
) partition by range (at);
create index reading_doubt_idx on reading (sensor_no, at) where time_doubt;
select protect_group_no_table('reading');
grant select, insert on reading to sealtrail_app;
grant update (time_doubt) on reading to sealtrail_app;

-- Partitions are out of reach of everybody but the owner: only through reading, whose policy binds.
create schema reading_parts;

-- The month's partition. Made apart and attached, which takes a lock that no upload and no reader waits for; creating it as a partition
-- would wait for all of them. Answers whether it was missing.
create function make_reading_month(month date) returns boolean
  language plpgsql security definer set search_path = pg_catalog, pg_temp as $$
declare
  part text := 'm' || to_char(month, 'YYYY_MM');
  first timestamp := date_trunc('month', month);
begin
  if first < '2000-01-01' or first > '2100-01-01' then raise exception 'no month of readings: %', month; end if;
  if to_regclass('reading_parts.' || part) is not null then return false; end if;
  perform pg_advisory_xact_lock(7283116006);
  if to_regclass('reading_parts.' || part) is not null then return false; end if;
  execute format('create table reading_parts.%I (like public.reading including defaults including constraints including indexes)', part);
  execute format('alter table public.reading attach partition reading_parts.%I for values from (%L) to (%L)', part,
                 to_char(first, 'YYYY-MM-DD') || ' 00:00:00+00',
                 to_char(first + interval '1 month', 'YYYY-MM-DD') || ' 00:00:00+00');
  return true;
end
$$;
revoke execute on function make_reading_month(date) from public;
grant execute on function make_reading_month(date) to sealtrail_app;

-- Which months need no partition any more, as far as a group is concerned: every place-day of it has been summed up.
create table reading_month_done (
  group_id uuid not null references groups (group_id),
  month date not null,
  done_at timestamptz not null,
  constraint reading_month_done_pkey primary key (group_id, month)
);
select protect_group_table('reading_month_done');
create policy sweep on reading_month_done for select to sealtrail_queue using (true);
grant select, insert on reading_month_done to sealtrail_app;
grant select on reading_month_done to sealtrail_queue;

-- Drops the month's partition. Whether it may be dropped is for the caller to know; what can be refused here is refused: a month of which
-- readings are still taken (they are, for 400 days). Waits two seconds for readers and gives up, so that uploads never queue behind it.
create function drop_reading_month(month date) returns boolean
  language plpgsql security definer set search_path = pg_catalog, pg_temp set lock_timeout = '2s' as $$
declare
  part text := 'm' || to_char(month, 'YYYY_MM');
begin
  if month > now() - interval '432 days' then raise exception 'readings of that month are still taken: %', month; end if;
  if to_regclass('reading_parts.' || part) is null then return false; end if;
  execute format('drop table reading_parts.%I', part);
  return true;
end
$$;
revoke execute on function drop_reading_month(date) from public;
grant execute on function drop_reading_month(date) to sealtrail_queue;

-- A long upload: its text is kept in pieces that end at line ends, until the worker has put each into the set.
create table reading_import (
  group_id uuid not null references groups (group_id),
  reading_import_id uuid not null,
  -- what its pieces are kept under
  upload_id uuid not null,
  content_hash bytea not null check (octet_length(content_hash) = 32),
  state text not null check (state in ('waiting', 'running', 'done')),
  media_type text not null,
  -- null: every site of the group
  site_ids uuid[],
  actor_id uuid not null,
  actor_is_device boolean not null,
  received_at timestamptz not null,
  -- the sender's clock against ours when it began to send; null when it did not say
  clock_offset_ms bigint,
  columns text[] not null default '{}',
  chunks integer not null,
  chunks_done integer not null default 0,
  lines integer not null,
  lines_done integer not null default 0,
  stored integer not null default 0,
  duplicates integer not null default 0,
  conflicts integer not null default 0,
  refused integer not null default 0,
  place_days integer not null default 0,
  problems jsonb not null default '[]',
  done_at timestamptz,
  constraint reading_import_pkey primary key (group_id, reading_import_id)
);
create index reading_import_open_idx on reading_import (received_at, group_id) where state <> 'done';
select protect_group_table('reading_import');
grant select, insert on reading_import to sealtrail_app;
grant update (state, chunks_done, lines_done, stored, duplicates, conflicts, refused, place_days, problems, done_at)
  on reading_import to sealtrail_app;

-- No foreign key: pieces come in before the import is there. Pieces of one that never was are swept after a day.
create table reading_import_chunk (
  group_id uuid not null references groups (group_id),
  upload_id uuid not null,
  chunk_no integer not null,
  -- lines before it
  first_line integer not null,
  lines integer not null,
  body bytea not null,
  received_at timestamptz not null,
  constraint reading_import_chunk_pkey primary key (group_id, upload_id, chunk_no)
);
select protect_group_table('reading_import_chunk');
grant select, insert, delete on reading_import_chunk to sealtrail_app;

-- Adds a job, where there is a queue (a database under test has none). One waiting job a group and name: a second wake-up is the first.
create function wake_job(job text, group_id uuid) returns void language plpgsql as $$
begin
  if to_regnamespace('graphile_worker') is null then return; end if;
  perform graphile_worker.add_job(job, json_build_object('groupId', group_id), job_key => job || ':' || group_id,
                                  job_key_mode => 'preserve_run_at');
end
$$;
