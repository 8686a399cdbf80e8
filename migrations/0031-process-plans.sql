-- What has to be checked while food of a recipe is made, and what a check must show. A plan is never edited: a new version stands beside
-- the old one, and a batch keeps a copy of the one that it was opened with, with the defaults of its site's jurisdiction filled in.
create table process_plan (
  group_id uuid not null references groups (group_id),
  plan_id uuid not null,
  recipe_id uuid not null,
  version integer not null check (version > 0),
  -- control points, how it is released, how many people that takes; shape in src/domain/process-checks/shapes.ts
  content jsonb not null,
  note text,
  recorded_at timestamptz not null,
  recorded_by uuid not null,
  constraint process_plan_pkey primary key (group_id, plan_id),
  constraint process_plan_version_key unique (group_id, recipe_id, version),
  constraint process_plan_recipe_fkey foreign key (group_id, recipe_id) references recipe (group_id, recipe_id)
);
select protect_group_table('process_plan');
grant select, insert on process_plan to sealtrail_app;

create table batch_process_plan (
  group_id uuid not null references groups (group_id),
  batch_id uuid not null,
  plan_id uuid not null,
  plan_version integer not null,
  content jsonb not null,
  constraint batch_process_plan_pkey primary key (group_id, batch_id),
  constraint batch_process_plan_batch_fkey foreign key (group_id, batch_id) references batch (group_id, batch_id),
  constraint batch_process_plan_plan_fkey foreign key (group_id, plan_id) references process_plan (group_id, plan_id)
);
select protect_group_table('batch_process_plan');
grant select, insert on batch_process_plan to sealtrail_app;

-- How a site keeps raw food and allergens apart on its machines, how many people a release takes, and limits of checks that belong to no
-- recipe, where they differ from its jurisdiction's. The newest version counts.
create table site_process_policy (
  group_id uuid not null references groups (group_id),
  policy_id uuid not null,
  site_id uuid not null,
  version integer not null check (version > 0),
  content jsonb not null,
  confirmed_by text not null,
  note text,
  recorded_at timestamptz not null,
  recorded_by uuid not null,
  constraint site_process_policy_pkey primary key (group_id, policy_id),
  constraint site_process_policy_version_key unique (group_id, site_id, version),
  constraint site_process_policy_site_fkey foreign key (group_id, site_id) references site (group_id, site_id)
);
select protect_group_table('site_process_policy');
grant select, insert on site_process_policy to sealtrail_app;
