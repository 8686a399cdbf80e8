-- Bins that are topped up: a bin is the set of lots since it was last empty, and whatever is taken from it may be any of them.
alter table place add column is_bin boolean not null default false;
grant update (is_bin) on place to sealtrail_app;

-- Somebody saw that the bin was empty. The complete count of the same id says so to the book.
create table bin_emptying (
  group_id uuid not null references groups (group_id),
  emptying_id uuid not null,
  place_id uuid not null,
  site_id uuid not null,
  note text,
  occurred_at timestamptz not null,
  recorded_at timestamptz not null,
  recorded_by uuid not null,
  constraint bin_emptying_pkey primary key (group_id, emptying_id),
  constraint bin_emptying_place_fkey foreign key (group_id, place_id) references place (group_id, place_id)
);
create index bin_emptying_place_idx on bin_emptying (place_id, group_id, occurred_at);
select protect_group_table('bin_emptying');
grant select, insert on bin_emptying to sealtrail_app;

-- Food of a bin that went into a batch. Which lots it is booked from follows from what is known of the bin and may be posted anew:
-- entry_id is the entry that stands for it now (null for a moment, while the first is written).
create table bin_input (
  group_id uuid not null references groups (group_id),
  bin_input_id uuid not null,
  batch_id uuid not null,
  place_id uuid not null,
  site_id uuid not null,
  item_id uuid not null,
  quantity bigint not null check (quantity > 0),
  caps_use_by boolean not null,
  content_hash bytea not null check (octet_length(content_hash) = 32),
  occurred_at timestamptz not null,
  occurred_on date not null,
  entry_id uuid,
  constraint bin_input_pkey primary key (group_id, bin_input_id),
  constraint bin_input_batch_fkey foreign key (group_id, batch_id) references batch (group_id, batch_id),
  constraint bin_input_place_fkey foreign key (group_id, place_id) references place (group_id, place_id),
  constraint bin_input_item_fkey foreign key (group_id, item_id) references item (group_id, item_id)
);
create index bin_input_place_idx on bin_input (place_id, group_id, item_id, occurred_at);
create index bin_input_batch_idx on bin_input (batch_id, group_id);
select protect_group_table('bin_input');
grant select, insert on bin_input to sealtrail_app;
grant update (entry_id) on bin_input to sealtrail_app;

-- The lots that may be in it, whatever share is booked from each: the parents of what the batch makes. A projection.
create table bin_input_lot (
  group_id uuid not null,
  bin_input_id uuid not null,
  lot_id uuid not null,
  constraint bin_input_lot_pkey primary key (group_id, bin_input_id, lot_id),
  constraint bin_input_lot_input_fkey foreign key (group_id, bin_input_id) references bin_input (group_id, bin_input_id),
  constraint bin_input_lot_lot_fkey foreign key (group_id, lot_id) references lot (group_id, lot_id)
);
select protect_group_table('bin_input_lot');
grant select, insert, delete on bin_input_lot to sealtrail_app;

-- One input from a bin can be doubtful for several lots.
alter table doubtful_input drop constraint doubtful_input_pkey;
alter table doubtful_input add constraint doubtful_input_pkey primary key (group_id, entry_id, lot_id);

-- A sack or tin that is simply in use, from a time: inputs may then name the item alone.
create table lot_in_use (
  group_id uuid not null references groups (group_id),
  use_id uuid not null,
  place_id uuid not null,
  site_id uuid not null,
  item_id uuid not null,
  lot_id uuid not null,
  from_at timestamptz not null,
  recorded_at timestamptz not null,
  recorded_by uuid not null,
  constraint lot_in_use_pkey primary key (group_id, use_id),
  constraint lot_in_use_place_fkey foreign key (group_id, place_id) references place (group_id, place_id),
  constraint lot_in_use_lot_fkey foreign key (group_id, lot_id) references lot (group_id, lot_id)
);
create index lot_in_use_place_idx on lot_in_use (place_id, item_id, group_id, from_at);
select protect_group_table('lot_in_use');
grant select, insert on lot_in_use to sealtrail_app;
