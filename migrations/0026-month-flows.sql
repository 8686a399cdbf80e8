-- Sums of postings by stretch of seq, so that a month of millions of postings is read as what it comes to.
--
-- A stretch (from_seq, to_seq] is summed once, when the head has passed its end: seq is gapless and the head row is locked until the
-- commit, so whoever sees the head sees every posting up to it. Nothing is ever changed here; a report reads whole stretches and, for the
-- rest, the postings themselves, so no figure depends on how far the summing is.

create table flow_stretch (
  group_id uuid not null references groups (group_id),
  from_seq bigint not null check (from_seq >= 0),
  to_seq bigint not null,
  -- of what happened in it, by the sites' dates; null: nothing that a month counts
  first_month date,
  last_month date,
  constraint flow_stretch_pkey primary key (group_id, to_seq),
  constraint flow_stretch_from_key unique (group_id, from_seq),
  constraint flow_stretch_forward check (from_seq < to_seq)
);
select protect_group_table('flow_stretch');
grant select, insert on flow_stretch to sealtrail_app;

-- How quantity crossed the bounds of a site's places or of the road, and why; numbered, because a sum of a million of them is quick over
-- numbers and slow over words. What moved from place to place of one site is none.
create table flow_way (
  group_id uuid not null references groups (group_id),
  way_no integer not null,
  -- of a reversal: its original's
  entry_kind text not null,
  -- a reversal: sides as its original's, quantity below zero
  undoes boolean not null,
  -- kinds of account, a shortfall counted as its place or road; the site only of places
  from_kind text not null,
  from_site_id uuid,
  to_kind text not null,
  to_site_id uuid,
  -- where food was used or thrown away
  reason text,
  destination text,
  material text,
  constraint flow_way_pkey primary key (group_id, way_no)
);
create unique index flow_way_key on flow_way (entry_kind, undoes, from_kind, from_site_id, to_kind, to_site_id, reason, destination,
  material, group_id) nulls not distinct;
select protect_group_table('flow_way');
grant select, insert on flow_way to sealtrail_app;

create table month_flow (
  group_id uuid not null,
  to_seq bigint not null,
  row_no integer not null,
  way_no integer not null,
  -- first day
  month date not null,
  lot_id uuid not null,
  quantity bigint not null,
  constraint month_flow_pkey primary key (group_id, to_seq, row_no),
  constraint month_flow_stretch_fkey foreign key (group_id, to_seq) references flow_stretch (group_id, to_seq),
  constraint month_flow_way_fkey foreign key (group_id, way_no) references flow_way (group_id, way_no),
  constraint month_flow_lot_fkey foreign key (group_id, lot_id) references lot (group_id, lot_id)
);
select protect_group_table('month_flow');
grant select, insert on month_flow to sealtrail_app;
