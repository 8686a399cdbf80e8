-- The use-by in force of a part (a lot in one place or on one dispatch), and the relabelling that an earlier one asks for.

-- It rides on holds, so that whatever reads the holds of a lot reads its dates with them. A row of kind `use-by` blocks nothing by
-- itself. The one that is not lifted is in force: an earlier date lifts it and places another; nothing lengthens it but a decision.
alter table hold add column use_by_at timestamptz;
-- the limit that rules, and the result that it came from
alter table hold add column ruling text;
alter table hold add column result_id uuid;
-- the part that the food, and the date with it, came from
alter table hold add column came_from_id uuid;
-- since when everything in the part says this date on its label
alter table hold add column labelled_at timestamptz;
alter table hold add constraint hold_use_by_whole check (
  case when kind = 'use-by' then use_by_at is not null and ruling is not null and account_id is not null
       else use_by_at is null and ruling is null and result_id is null and came_from_id is null and labelled_at is null end
);
create unique index hold_use_by_idx on hold (lot_id, account_id, group_id) where kind = 'use-by' and lifted_at is null;
grant update (labelled_at) on hold to sealtrail_app;

-- What was relabelled. The relabel itself is the row of kind `use-by`: it is open while there is food in the part and its labels say
-- a later date. Two kinds of proof: packs scanned one by one, or written on by hand and witnessed by another person.
create table relabel_done (
  group_id uuid not null references groups (group_id),
  done_id uuid not null,
  relabel_id uuid not null,
  how text not null check (how in ('scanned', 'written-witnessed')),
  -- whole units of the lot; of serials, as many as are named
  quantity bigint not null check (quantity >= 0),
  serials text[] not null default '{}',
  witness_id uuid,
  -- said: nothing of the lot stands there any more with the old date
  nothing_left boolean not null,
  done_at timestamptz not null,
  done_by uuid not null,
  recorded_at timestamptz not null,
  -- two of one millisecond keep the order in which they came
  done_no bigint not null generated always as identity,
  constraint relabel_done_pkey primary key (group_id, done_id),
  constraint relabel_done_relabel_fkey foreign key (group_id, relabel_id) references hold (group_id, hold_id),
  constraint relabel_done_witnessed check ((how = 'written-witnessed') = (witness_id is not null) and witness_id <> done_by)
);
create index relabel_done_relabel_idx on relabel_done (relabel_id, group_id);
select protect_group_table('relabel_done');
grant select, insert on relabel_done to sealtrail_app;
