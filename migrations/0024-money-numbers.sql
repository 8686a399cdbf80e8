-- What every figure of a month rests on besides the entries: the order in which prices, rates, completions and closes became known.
--
-- Entries have their gapless seq. Facts that change what food costs without moving any (a price, a rate, that a batch is complete, that a
-- month is closed) take a number of their own from the same head row, so that "as recorded at" is a pair of numbers (seq, money_no) that
-- no two transactions see differently.
alter table group_head add column last_money_no bigint not null default 0;

create table money_fact (
  group_id uuid not null references groups (group_id),
  money_no bigint not null,
  kind text not null check (kind in ('price', 'cost-rate', 'batch-completion', 'month-close', 'month-reopening')),
  subject_id uuid not null,
  fact_id uuid not null,
  actor_id uuid not null,
  recorded_at timestamptz not null,
  constraint money_fact_pkey primary key (group_id, money_no)
);
create index money_fact_subject_idx on money_fact (subject_id, group_id);
select protect_group_table('money_fact');
grant select, insert on money_fact to sealtrail_app;

-- Known since which number it is complete; 0: completed before numbers were taken.
alter table batch add column completed_no bigint;
alter table batch no force row level security;
update batch set completed_no = 0 where state = 'completed';
alter table batch force row level security;
alter table batch add constraint batch_completed_no check ((state = 'completed') = (completed_no is not null));
grant update (completed_no) on batch to sealtrail_app;

-- Waste is kept apart as food and as parts that are not eaten (Food Loss and Waste Standard 1.0, 2016). null: food.
alter table posting add column material text check (material in ('food', 'inedible-parts'));

-- Why food was used stands on the posting, like the reason of a discard; null: served.
alter table posting no force row level security;
alter table entry no force row level security;
update posting p set reason = e.note ->> 'purpose'
  from entry e
 where e.group_id = p.group_id and e.seq = p.seq and e.kind = 'use' and p.reason is null
   and e.note ->> 'purpose' in ('staff-meal', 'tasting', 'donation', 'laboratory');
alter table posting force row level security;
alter table entry force row level security;

-- Groups of items in reports; the group's own words.
alter table item add column category text;
grant update (category) on item to sealtrail_app;
