-- Reasons of sites, the stage that a site's waste is reported under, where losses of batches went.

-- A site says in its own words why food is thrown away. A row whose code is a standard one renames it; any other maps to a standard one,
-- for ever, so that what was reported stays true. Standard reasons are in shared/discard-reasons.json and have no rows until renamed.
create table waste_reason (
  group_id uuid not null,
  waste_reason_id uuid not null,
  site_id uuid not null,
  code text not null,
  label text not null,
  standard_reason text not null,
  active boolean not null default true,
  version integer not null default 1,
  constraint waste_reason_pkey primary key (group_id, waste_reason_id),
  constraint waste_reason_code_key unique (group_id, site_id, code),
  constraint waste_reason_site_fkey foreign key (group_id, site_id) references site (group_id, site_id)
);
select protect_group_table('waste_reason');
grant select, insert on waste_reason to sealtrail_app;
grant update (label, active, version) on waste_reason to sealtrail_app;

-- Of the five of Delegated Decision (EU) 2019/1597; null: each reason says its own.
alter table site add column food_waste_stage text check (food_waste_stage in ('primary-production', 'processing-and-manufacturing',
  'retail-and-other-distribution', 'restaurants-and-food-services', 'households'));
grant update (food_waste_stage) on site to sealtrail_app;

-- Where a loss of a batch went, of the ten of the Food Loss and Waste Standard, and how much of it is not eaten (bones, peel, shells).
alter table batch_loss add column destination text;
alter table batch_loss add column inedible_mass_mg bigint;
alter table batch_loss add constraint batch_loss_inedible check (inedible_mass_mg between 0 and mass_mg);

-- What a use says of itself stands on its posting and nothing else: its purpose, null for service. Until now a scan could bring a
-- condition or a reason that no use has, and a reversal did not carry the purpose of what it undoes.
alter table posting no force row level security;
alter table entry no force row level security;
update posting p set reason = said.purpose
  from (select e.group_id, e.seq, case when o.note ->> 'purpose' in ('staff-meal', 'tasting', 'donation', 'laboratory')
                                       then o.note ->> 'purpose' end as purpose
          from entry e
          join entry o on o.group_id = e.group_id and o.entry_id = coalesce(e.reverses_entry_id, e.entry_id)
         where o.kind = 'use') said
 where p.group_id = said.group_id and p.seq = said.seq and p.reason is distinct from said.purpose;
alter table posting force row level security;
alter table entry force row level security;
