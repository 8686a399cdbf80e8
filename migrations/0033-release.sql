-- A release may follow from the checks alone; a person may release in spite of points that were accepted by name, each with a reason; what
-- is rejected is discarded, or goes into a batch that makes it safe.
alter table batch_decision
  add column automatic boolean not null default false,
  add column accepted jsonb not null default '[]'::jsonb,
  -- two of one moment, as one check releases a load and then what waited for it, in the order in which they were made
  add column decision_no bigint not null generated always as identity,
  -- null: from before there was a choice, which meant discard
  add column disposition text,
  add constraint batch_decision_disposition_check
    check (disposition is null or (outcome = 'rejected' and disposition in ('discard', 'rework'))),
  add constraint batch_decision_automatic_check check (not automatic or outcome = 'released');

-- Findings of a lot are asked for whenever an allergen, a machine or a batch's record is looked at.
create index finding_lot_idx on finding (lot_id, group_id) where lot_id is not null;
