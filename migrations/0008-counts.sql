-- Counts: complete ones, and places whose use is derived from them.

-- One row a count. A complete count says zero of every lot of its place that has no line, also of lots that are heard of
-- later. used_by_count is the place's at counting time: a later change of the place rewrites nothing.
create table stock_count (
  group_id uuid not null references groups (group_id),
  count_id uuid not null,
  account_id uuid not null,
  site_id uuid not null,
  occurred_at timestamptz not null,
  occurred_on date not null,
  complete boolean not null,
  used_by_count boolean not null,
  constraint stock_count_pkey primary key (group_id, count_id),
  constraint stock_count_account_fkey foreign key (group_id, account_id) references account (group_id, account_id),
  constraint stock_count_site_fkey foreign key (group_id, site_id) references site (group_id, site_id)
);

-- Counts that were recorded before: partial, and their difference was variance. Read past the row policies, which hide
-- every group from a migration.
alter table count_line no force row level security;
alter table entry no force row level security;
insert into stock_count (group_id, count_id, account_id, site_id, occurred_at, occurred_on, complete, used_by_count)
select distinct c.group_id, c.count_id, c.account_id, e.site_id, e.occurred_at, e.occurred_on, false, false
  from count_line c
  join entry e on e.group_id = c.group_id and e.entry_id = c.count_id;
alter table count_line force row level security;
alter table entry force row level security;

alter table count_line add constraint count_line_count_fkey
  foreign key (group_id, count_id) references stock_count (group_id, count_id);

create index stock_count_account_idx on stock_count (account_id, group_id, occurred_at, count_id);
create index stock_count_site_idx on stock_count (site_id, group_id, occurred_at);
select protect_group_table('stock_count');
grant select, insert on stock_count to sealtrail_app;
