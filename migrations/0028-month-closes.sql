-- Closed months, their files, reopenings; report exports and their progress.
--
-- A close freezes a cut (entries up to cut_seq, money facts up to cut_money_no). It is one of the money facts itself: money_no says when
-- it became known, and cut_money_no is the same number, so that a month read at the cut of its close is closed.
create table month_close (
  group_id uuid not null references groups (group_id),
  close_id uuid not null,
  -- its first day
  month date not null check (extract(day from month) = 1),
  -- 2 and on: closed again after it was reopened
  version integer not null check (version > 0),
  cut_seq bigint not null,
  cut_money_no bigint not null,
  cut_recorded_at timestamptz not null,
  money_no bigint not null,
  -- failed: the last try to make its files broke off; it is tried again
  state text not null default 'making' check (state in ('making', 'ready', 'failed')),
  closed_by uuid not null,
  closed_at timestamptz not null,
  note text,
  checks jsonb not null,
  accepted jsonb not null,
  -- the close before it in the order of money_no, reopened or not: the signatures are one chain
  previous_close_id uuid,
  report_hash bytea check (octet_length(report_hash) = 32),
  signature_hash bytea check (octet_length(signature_hash) = 32),
  steps_done text[] not null default '{}',
  failure text,
  constraint month_close_pkey primary key (group_id, close_id),
  constraint month_close_money_fkey foreign key (group_id, money_no) references money_fact (group_id, money_no),
  constraint month_close_previous_fkey foreign key (group_id, previous_close_id) references month_close (group_id, close_id),
  constraint month_close_version_key unique (group_id, month, version),
  constraint month_close_chain_key unique nulls not distinct (group_id, previous_close_id),
  constraint month_close_own_number check (cut_money_no = money_no),
  constraint month_close_signed check (state <> 'ready' or signature_hash is not null)
);
select protect_group_table('month_close');
grant select, insert on month_close to sealtrail_app;
grant update (state, report_hash, signature_hash, steps_done, failure) on month_close to sealtrail_app;

-- Asked by one person, confirmed by another: from money_no on the close does not count.
create table month_reopening (
  group_id uuid not null,
  reopening_id uuid not null,
  close_id uuid not null,
  reason text not null,
  asked_by uuid not null,
  asked_at timestamptz not null,
  confirmed_by uuid,
  confirmed_at timestamptz,
  money_no bigint,
  constraint month_reopening_pkey primary key (group_id, reopening_id),
  constraint month_reopening_close_fkey foreign key (group_id, close_id) references month_close (group_id, close_id),
  constraint month_reopening_money_fkey foreign key (group_id, money_no) references money_fact (group_id, money_no),
  constraint month_reopening_two_people check (confirmed_by is null or confirmed_by <> asked_by),
  constraint month_reopening_whole check (
    (confirmed_by is null) = (confirmed_at is null) and (confirmed_by is null) = (money_no is null))
);
create unique index month_reopening_once_key on month_reopening (close_id, group_id) where confirmed_by is not null;
select protect_group_table('month_reopening');
grant select, insert on month_reopening to sealtrail_app;
grant update (confirmed_by, confirmed_at, money_no) on month_reopening to sealtrail_app;

-- A file that is finished. Its content is in pieces, so that a workbook of a million lines is never held as a whole.
create table month_close_file (
  group_id uuid not null,
  close_id uuid not null,
  kind text not null check (kind in ('json', 'csv', 'xlsx', 'html', 'pdf')),
  content_type text not null,
  bytes bigint not null check (bytes > 0),
  sha256 bytea not null check (octet_length(sha256) = 32),
  made_at timestamptz not null,
  constraint month_close_file_pkey primary key (group_id, close_id, kind),
  constraint month_close_file_close_fkey foreign key (group_id, close_id) references month_close (group_id, close_id)
);
select protect_group_table('month_close_file');
grant select, insert on month_close_file to sealtrail_app;

create table month_close_piece (
  group_id uuid not null,
  close_id uuid not null,
  kind text not null,
  -- counted from 0
  piece_no integer not null,
  body bytea not null,
  constraint month_close_piece_pkey primary key (group_id, close_id, kind, piece_no),
  constraint month_close_piece_close_fkey foreign key (group_id, close_id) references month_close (group_id, close_id)
);
select protect_group_table('month_close_piece');
-- What a file that broke off left behind may be deleted; a finished file never loses or gains a piece.
create policy unfinished_delete on month_close_piece as restrictive for delete using (not exists (
  select from month_close_file f
   where f.group_id = month_close_piece.group_id and f.close_id = month_close_piece.close_id and f.kind = month_close_piece.kind));
create policy unfinished_insert on month_close_piece as restrictive for insert with check (not exists (
  select from month_close_file f
   where f.group_id = month_close_piece.group_id and f.close_id = month_close_piece.close_id and f.kind = month_close_piece.kind));
grant select, insert, delete on month_close_piece to sealtrail_app;

create table report_export (
  group_id uuid not null references groups (group_id),
  export_id uuid not null,
  report text not null check (report in ('waste-and-yield', 'lines')),
  -- their first days
  month date not null,
  through_month date not null,
  -- null: the whole group
  site_ids uuid[],
  cut_seq bigint not null,
  cut_money_no bigint not null,
  cut_recorded_at timestamptz not null,
  format text not null check (format in ('json', 'csv', 'xlsx', 'html', 'pdf')),
  -- trimmed: made, kept for its time, and deleted
  state text not null check (state in ('waiting', 'making', 'ready', 'failed', 'trimmed')),
  rows_done bigint not null default 0,
  -- null: not counted yet
  rows_of bigint,
  -- how often it was begun
  tries integer not null default 0,
  failure text,
  bytes bigint,
  sha256 bytea check (octet_length(sha256) = 32),
  asked_by uuid not null,
  asked_at timestamptz not null,
  done_at timestamptz,
  constraint report_export_pkey primary key (group_id, export_id)
);
create index report_export_open_idx on report_export (asked_at, group_id) where state in ('waiting', 'making');
select protect_group_table('report_export');
grant select, insert on report_export to sealtrail_app;
grant update (state, rows_done, rows_of, tries, failure, bytes, sha256, done_at) on report_export to sealtrail_app;

create table report_export_piece (
  group_id uuid not null,
  export_id uuid not null,
  -- counted from 0
  piece_no integer not null,
  body bytea not null,
  constraint report_export_piece_pkey primary key (group_id, export_id, piece_no),
  constraint report_export_piece_export_fkey foreign key (group_id, export_id) references report_export (group_id, export_id)
);
select protect_group_table('report_export_piece');
grant select, insert, delete on report_export_piece to sealtrail_app;
