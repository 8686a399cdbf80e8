-- Baselines of savings; how far yields were looked at.

-- A period of the group's own past against which later ones are held. Kept for ever with the cut at which it was chosen, so that its figures
-- stay what they were; the newest one holds.
create table savings_baseline (
  group_id uuid not null references groups (group_id),
  baseline_id uuid not null,
  -- first days of the first and of the last month
  month date not null,
  through_month date not null,
  cut_seq bigint not null,
  cut_money_no bigint not null,
  note text,
  created_by uuid not null,
  recorded_at timestamptz not null,
  constraint savings_baseline_pkey primary key (group_id, baseline_id),
  constraint savings_baseline_months check (through_month >= month)
);
select protect_group_table('savings_baseline');
grant select, insert on savings_baseline to sealtrail_app;

-- The last entry and the last money fact whose batches were held against the history of their recipe.
create table yield_look (
  group_id uuid not null references groups (group_id),
  seq bigint not null,
  money_no bigint not null,
  constraint yield_look_pkey primary key (group_id)
);
select protect_group_table('yield_look');
grant select, insert on yield_look to sealtrail_app;
grant update (seq, money_no) on yield_look to sealtrail_app;

-- What was completed before is history: nobody is told of it now.
alter table group_head no force row level security;
alter table yield_look no force row level security;
insert into yield_look (group_id, seq, money_no)
select gh.group_id, gh.last_seq, gh.last_money_no from group_head gh;
alter table yield_look force row level security;
alter table group_head force row level security;
