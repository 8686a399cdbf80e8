-- Generated from the migrations by npm run -s db:schema. To read, not to run.

grant usage on schema public to sealtrail_app;
grant usage on schema public to sealtrail_queue;

CREATE OR REPLACE FUNCTION public.drop_reading_month(month date)
 RETURNS boolean
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
 SET lock_timeout TO '2s'
AS $function$
declare
  part text := 'm' || to_char(month, 'YYYY_MM');
begin
  if month > now() - interval '432 days' then raise exception 'readings of that month are still taken: %', month; end if;
  if to_regclass('reading_parts.' || part) is null then return false; end if;
  execute format('drop table reading_parts.%I', part);
  return true;
end
$function$
;
grant execute on function drop_reading_month(date) to sealtrail_queue;

CREATE OR REPLACE FUNCTION public.make_reading_month(month date)
 RETURNS boolean
 LANGUAGE plpgsql
 SECURITY DEFINER
 SET search_path TO 'pg_catalog', 'pg_temp'
AS $function$
declare
  part text := 'm' || to_char(month, 'YYYY_MM');
  first timestamp := date_trunc('month', month);
begin
  if first < '2000-01-01' or first > '2100-01-01' then raise exception 'no month of readings: %', month; end if;
  if to_regclass('reading_parts.' || part) is not null then return false; end if;
  perform pg_advisory_xact_lock(7283116006);
  if to_regclass('reading_parts.' || part) is not null then return false; end if;
  execute format('create table reading_parts.%I (like public.reading including defaults including constraints including indexes)', part);
  execute format('alter table public.reading attach partition reading_parts.%I for values from (%L) to (%L)', part,
                 to_char(first, 'YYYY-MM-DD') || ' 00:00:00+00',
                 to_char(first + interval '1 month', 'YYYY-MM-DD') || ' 00:00:00+00');
  return true;
end
$function$
;
grant execute on function make_reading_month(date) to sealtrail_app;

CREATE OR REPLACE FUNCTION public.protect_group_no_table(target regclass)
 RETURNS void
 LANGUAGE plpgsql
AS $function$
begin
  execute format('alter table %s enable row level security', target);
  execute format('alter table %s force row level security', target);
  execute format(
    'create policy own_group on %s using (group_no = (select g.group_no from groups g'
    ' where g.group_id = (select nullif(current_setting(''app.group_id'', true), '''')::uuid)))'
    ' with check (group_no = (select g.group_no from groups g'
    ' where g.group_id = (select nullif(current_setting(''app.group_id'', true), '''')::uuid)))', target);
end
$function$
;

CREATE OR REPLACE FUNCTION public.protect_group_table(target regclass)
 RETURNS void
 LANGUAGE plpgsql
AS $function$
begin
  execute format('alter table %s enable row level security', target);
  execute format('alter table %s force row level security', target);
  execute format(
    'create policy own_group on %s using (group_id = (select nullif(current_setting(''app.group_id'', true), '''')::uuid))'
    ' with check (group_id = (select nullif(current_setting(''app.group_id'', true), '''')::uuid))', target);
end
$function$
;

CREATE OR REPLACE FUNCTION public.supplier_lot_key(code text)
 RETURNS text
 LANGUAGE sql
 IMMUTABLE PARALLEL SAFE STRICT
AS $function$ select nullif(upper(regexp_replace(code, '[\u0001-\u002f\u003a-\u0040\u005b-\u0060\u007b-\u00a9\u00ab-\u00b4\u00b6-\u00b9\u00bb-\u00bf\u2000-\u206f]', '', 'g')), '') $function$
;

CREATE OR REPLACE FUNCTION public.wake_job(job text, group_id uuid)
 RETURNS void
 LANGUAGE plpgsql
AS $function$
begin
  if to_regnamespace('graphile_worker') is null then return; end if;
  perform graphile_worker.add_job(job, json_build_object('groupId', group_id), job_key => job || ':' || group_id,
                                  job_key_mode => 'preserve_run_at');
end
$function$
;

CREATE OR REPLACE FUNCTION public.wake_job_later(job text, group_id uuid, after_s integer)
 RETURNS void
 LANGUAGE plpgsql
AS $function$
begin
  if to_regnamespace('graphile_worker') is null then return; end if;
  perform graphile_worker.add_job(job, json_build_object('groupId', group_id), job_key => job || ':' || group_id,
                                  job_key_mode => 'preserve_run_at', run_at => now() + make_interval(secs => after_s));
end
$function$
;

create table account (
  group_id uuid not null,
  account_id uuid not null,
  kind text not null,
  site_id uuid not null,
  to_site_id uuid,
  twin_of uuid,
  sign smallint not null,
  constraint account_pkey PRIMARY KEY (group_id, account_id),
  constraint account_sign_key UNIQUE (group_id, account_id, sign),
  constraint account_twin_key UNIQUE (twin_of, group_id),
  constraint account_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id),
  constraint account_site_fkey FOREIGN KEY (group_id, site_id) REFERENCES site(group_id, site_id) DEFERRABLE INITIALLY DEFERRED,
  constraint account_kind_check CHECK ((kind = ANY (ARRAY['place'::text, 'transit'::text, 'place-shortfall'::text, 'transit-shortfall'::text, 'supplier'::text, 'consumed'::text, 'produced'::text, 'served'::text, 'waste'::text, 'variance'::text]))),
  constraint account_sign_by_kind CHECK ((sign =
CASE
    WHEN (kind = ANY (ARRAY['place'::text, 'transit'::text])) THEN 1
    WHEN (kind ~~ '%-shortfall'::text) THEN '-1'::integer
    ELSE 0
END)),
  constraint account_twin_by_kind CHECK (((twin_of IS NOT NULL) = (kind ~~ '%-shortfall'::text)))
);
alter table account enable row level security;
alter table account force row level security;
CREATE UNIQUE INDEX account_outside_key ON public.account USING btree (group_id, site_id, kind) WHERE (sign = 0);
create policy own_group on account as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on account to sealtrail_app;

create table announced_delivery (
  group_id uuid not null,
  announced_delivery_id uuid not null,
  capture_id uuid not null,
  event_id text not null,
  shipped_at timestamp with time zone not null,
  recorded_at timestamp with time zone not null,
  from_gln text,
  to_gln text,
  despatch_advice text,
  purchase_order text,
  ssccs text[] not null,
  closed_ssccs text[] not null,
  constraint announced_delivery_pkey PRIMARY KEY (group_id, announced_delivery_id),
  constraint announced_delivery_event_key UNIQUE (group_id, event_id),
  constraint announced_delivery_capture_fkey FOREIGN KEY (group_id, capture_id) REFERENCES epcis_capture(group_id, capture_id),
  constraint announced_delivery_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id)
);
alter table announced_delivery enable row level security;
alter table announced_delivery force row level security;
CREATE INDEX announced_delivery_capture ON public.announced_delivery USING btree (capture_id, group_id);
CREATE INDEX announced_delivery_to ON public.announced_delivery USING btree (to_gln, shipped_at, announced_delivery_id, group_id);
create policy own_group on announced_delivery as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on announced_delivery to sealtrail_app;

create table announced_delivery_line (
  group_id uuid not null,
  announced_delivery_id uuid not null,
  line_no integer not null,
  epc text not null,
  gtin text,
  lot_code text,
  sscc text,
  quantity numeric,
  uom text,
  use_by_date date,
  best_before_date date,
  constraint announced_delivery_line_pkey PRIMARY KEY (group_id, announced_delivery_id, line_no),
  constraint announced_delivery_line_delivery_fkey FOREIGN KEY (group_id, announced_delivery_id) REFERENCES announced_delivery(group_id, announced_delivery_id),
  constraint announced_delivery_line_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id),
  constraint announced_delivery_line_line_no_check CHECK ((line_no > 0))
);
alter table announced_delivery_line enable row level security;
alter table announced_delivery_line force row level security;
create policy own_group on announced_delivery_line as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on announced_delivery_line to sealtrail_app;

create table announced_delivery_receipt (
  group_id uuid not null,
  announced_delivery_id uuid not null,
  goods_receipt_id uuid not null,
  recorded_at timestamp with time zone not null,
  recorded_by uuid not null,
  constraint announced_delivery_receipt_pkey PRIMARY KEY (group_id, announced_delivery_id, goods_receipt_id),
  constraint announced_delivery_receipt_receipt_key UNIQUE (group_id, goods_receipt_id),
  constraint announced_delivery_receipt_delivery_fkey FOREIGN KEY (group_id, announced_delivery_id) REFERENCES announced_delivery(group_id, announced_delivery_id),
  constraint announced_delivery_receipt_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id),
  constraint announced_delivery_receipt_receipt_fkey FOREIGN KEY (group_id, goods_receipt_id) REFERENCES goods_receipt(group_id, goods_receipt_id)
);
alter table announced_delivery_receipt enable row level security;
alter table announced_delivery_receipt force row level security;
create policy own_group on announced_delivery_receipt as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on announced_delivery_receipt to sealtrail_app;

create table announced_delivery_withdrawal (
  group_id uuid not null,
  announced_delivery_id uuid not null,
  capture_id uuid not null,
  declared_at timestamp with time zone not null,
  reason text,
  constraint announced_delivery_withdrawal_pkey PRIMARY KEY (group_id, announced_delivery_id),
  constraint announced_delivery_withdrawal_capture_fkey FOREIGN KEY (group_id, capture_id) REFERENCES epcis_capture(group_id, capture_id),
  constraint announced_delivery_withdrawal_delivery_fkey FOREIGN KEY (group_id, announced_delivery_id) REFERENCES announced_delivery(group_id, announced_delivery_id),
  constraint announced_delivery_withdrawal_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id)
);
alter table announced_delivery_withdrawal enable row level security;
alter table announced_delivery_withdrawal force row level security;
create policy own_group on announced_delivery_withdrawal as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on announced_delivery_withdrawal to sealtrail_app;

create table balance (
  group_id uuid not null,
  lot_id uuid not null,
  account_id uuid not null,
  sign smallint not null,
  quantity bigint not null,
  constraint balance_pkey PRIMARY KEY (group_id, lot_id, account_id) INCLUDE (quantity),
  constraint balance_account_fkey FOREIGN KEY (group_id, account_id, sign) REFERENCES account(group_id, account_id, sign),
  constraint balance_lot_fkey FOREIGN KEY (group_id, lot_id) REFERENCES lot(group_id, lot_id),
  constraint balance_sign CHECK (((quantity * sign) >= 0))
);
alter table balance enable row level security;
alter table balance force row level security;
CREATE INDEX balance_account_idx ON public.balance USING btree (group_id, account_id) INCLUDE (lot_id, quantity) WHERE (quantity <> 0);
create policy own_group on balance as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select, update on balance to sealtrail_app;

create table batch (
  group_id uuid not null,
  batch_id uuid not null,
  code text not null,
  site_id uuid not null,
  recipe_id uuid not null,
  recipe_version integer not null,
  item_id uuid not null,
  expected_yield_ppm integer not null,
  kill_step boolean not null,
  state text not null,
  started_at timestamp with time zone not null,
  completed_at timestamp with time zone,
  version integer default 1 not null,
  steps text[],
  completed_no bigint,
  constraint batch_pkey PRIMARY KEY (group_id, batch_id),
  constraint batch_code_key UNIQUE (code, group_id),
  constraint batch_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id),
  constraint batch_recipe_fkey FOREIGN KEY (group_id, recipe_id) REFERENCES recipe(group_id, recipe_id),
  constraint batch_site_fkey FOREIGN KEY (group_id, site_id) REFERENCES site(group_id, site_id),
  constraint batch_completed_no CHECK (((state = 'completed'::text) = (completed_no IS NOT NULL))),
  constraint batch_state_check CHECK ((state = ANY (ARRAY['open'::text, 'completed'::text])))
);
alter table batch enable row level security;
alter table batch force row level security;
CREATE INDEX batch_site_idx ON public.batch USING btree (site_id, group_id, started_at, batch_id);
create policy own_group on batch as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on batch to sealtrail_app;
grant update (state, completed_at, version, completed_no) on batch to sealtrail_app;

create table batch_decision (
  group_id uuid not null,
  decision_id uuid not null,
  batch_id uuid not null,
  outcome text not null,
  lot_ids uuid[] not null,
  reason text,
  decided_by uuid not null,
  decided_at timestamp with time zone not null,
  deputy_id uuid,
  automatic boolean default false not null,
  accepted jsonb default '[]'::jsonb not null,
  decision_no bigint generated always as identity not null,
  disposition text,
  constraint batch_decision_pkey PRIMARY KEY (group_id, decision_id),
  constraint batch_decision_batch_fkey FOREIGN KEY (group_id, batch_id) REFERENCES batch(group_id, batch_id),
  constraint batch_decision_automatic_check CHECK (((NOT automatic) OR (outcome = 'released'::text))),
  constraint batch_decision_disposition_check CHECK (((disposition IS NULL) OR ((outcome = 'rejected'::text) AND (disposition = ANY (ARRAY['discard'::text, 'rework'::text]))))),
  constraint batch_decision_outcome_check CHECK ((outcome = ANY (ARRAY['released'::text, 'rejected'::text])))
);
alter table batch_decision enable row level security;
alter table batch_decision force row level security;
CREATE INDEX batch_decision_batch_idx ON public.batch_decision USING btree (group_id, batch_id);
create policy own_group on batch_decision as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on batch_decision to sealtrail_app;

create table batch_gain (
  group_id uuid not null,
  batch_id uuid not null,
  kind text not null,
  mass_mg bigint not null,
  constraint batch_gain_pkey PRIMARY KEY (group_id, batch_id, kind),
  constraint batch_gain_batch_fkey FOREIGN KEY (group_id, batch_id) REFERENCES batch(group_id, batch_id),
  constraint batch_gain_kind_check CHECK ((kind = ANY (ARRAY['water-uptake'::text, 'added-water'::text, 'other'::text]))),
  constraint batch_gain_mass_mg_check CHECK ((mass_mg > 0))
);
alter table batch_gain enable row level security;
alter table batch_gain force row level security;
create policy own_group on batch_gain as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on batch_gain to sealtrail_app;

create table batch_loss (
  group_id uuid not null,
  batch_id uuid not null,
  kind text not null,
  mass_mg bigint not null,
  destination text,
  inedible_mass_mg bigint,
  constraint batch_loss_pkey PRIMARY KEY (group_id, batch_id, kind),
  constraint batch_loss_batch_fkey FOREIGN KEY (group_id, batch_id) REFERENCES batch(group_id, batch_id),
  constraint batch_loss_inedible CHECK (((inedible_mass_mg >= 0) AND (inedible_mass_mg <= mass_mg))),
  constraint batch_loss_kind_check CHECK ((kind = ANY (ARRAY['trim'::text, 'cooking-loss'::text, 'drip-loss'::text, 'sample'::text, 'other'::text]))),
  constraint batch_loss_mass_mg_check CHECK ((mass_mg > 0))
);
alter table batch_loss enable row level security;
alter table batch_loss force row level security;
create policy own_group on batch_loss as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on batch_loss to sealtrail_app;

create table batch_process_plan (
  group_id uuid not null,
  batch_id uuid not null,
  plan_id uuid not null,
  plan_version integer not null,
  content jsonb not null,
  constraint batch_process_plan_pkey PRIMARY KEY (group_id, batch_id),
  constraint batch_process_plan_batch_fkey FOREIGN KEY (group_id, batch_id) REFERENCES batch(group_id, batch_id),
  constraint batch_process_plan_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id),
  constraint batch_process_plan_plan_fkey FOREIGN KEY (group_id, plan_id) REFERENCES process_plan(group_id, plan_id)
);
alter table batch_process_plan enable row level security;
alter table batch_process_plan force row level security;
create policy own_group on batch_process_plan as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on batch_process_plan to sealtrail_app;

create table bin_emptying (
  group_id uuid not null,
  emptying_id uuid not null,
  place_id uuid not null,
  site_id uuid not null,
  note text,
  occurred_at timestamp with time zone not null,
  recorded_at timestamp with time zone not null,
  recorded_by uuid not null,
  constraint bin_emptying_pkey PRIMARY KEY (group_id, emptying_id),
  constraint bin_emptying_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id),
  constraint bin_emptying_place_fkey FOREIGN KEY (group_id, place_id) REFERENCES place(group_id, place_id)
);
alter table bin_emptying enable row level security;
alter table bin_emptying force row level security;
CREATE INDEX bin_emptying_place_idx ON public.bin_emptying USING btree (place_id, group_id, occurred_at);
create policy own_group on bin_emptying as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on bin_emptying to sealtrail_app;

create table bin_input (
  group_id uuid not null,
  bin_input_id uuid not null,
  batch_id uuid not null,
  place_id uuid not null,
  site_id uuid not null,
  item_id uuid not null,
  quantity bigint not null,
  caps_use_by boolean not null,
  content_hash bytea not null,
  occurred_at timestamp with time zone not null,
  occurred_on date not null,
  entry_id uuid,
  constraint bin_input_pkey PRIMARY KEY (group_id, bin_input_id),
  constraint bin_input_batch_fkey FOREIGN KEY (group_id, batch_id) REFERENCES batch(group_id, batch_id),
  constraint bin_input_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id),
  constraint bin_input_item_fkey FOREIGN KEY (group_id, item_id) REFERENCES item(group_id, item_id),
  constraint bin_input_place_fkey FOREIGN KEY (group_id, place_id) REFERENCES place(group_id, place_id),
  constraint bin_input_content_hash_check CHECK ((octet_length(content_hash) = 32)),
  constraint bin_input_quantity_check CHECK ((quantity > 0))
);
alter table bin_input enable row level security;
alter table bin_input force row level security;
CREATE INDEX bin_input_batch_idx ON public.bin_input USING btree (batch_id, group_id);
CREATE INDEX bin_input_place_idx ON public.bin_input USING btree (place_id, group_id, item_id, occurred_at);
create policy own_group on bin_input as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on bin_input to sealtrail_app;
grant update (entry_id) on bin_input to sealtrail_app;

create table bin_input_lot (
  group_id uuid not null,
  bin_input_id uuid not null,
  lot_id uuid not null,
  constraint bin_input_lot_pkey PRIMARY KEY (group_id, bin_input_id, lot_id),
  constraint bin_input_lot_input_fkey FOREIGN KEY (group_id, bin_input_id) REFERENCES bin_input(group_id, bin_input_id),
  constraint bin_input_lot_lot_fkey FOREIGN KEY (group_id, lot_id) REFERENCES lot(group_id, lot_id)
);
alter table bin_input_lot enable row level security;
alter table bin_input_lot force row level security;
create policy own_group on bin_input_lot as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant delete, insert, select on bin_input_lot to sealtrail_app;

create table box_count (
  group_id uuid not null,
  box_count_id uuid not null,
  site_id uuid not null,
  box_type_id uuid not null,
  quantity integer not null,
  occurred_at timestamp with time zone not null,
  recorded_at timestamp with time zone not null,
  recorded_by uuid not null,
  constraint box_count_pkey PRIMARY KEY (group_id, box_count_id),
  constraint box_count_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id),
  constraint box_count_site_fkey FOREIGN KEY (group_id, site_id) REFERENCES site(group_id, site_id),
  constraint box_count_type_fkey FOREIGN KEY (group_id, box_type_id) REFERENCES box_type(group_id, box_type_id),
  constraint box_count_quantity_check CHECK ((quantity >= 0))
);
alter table box_count enable row level security;
alter table box_count force row level security;
CREATE INDEX box_count_site_idx ON public.box_count USING btree (site_id, box_type_id, occurred_at, group_id);
create policy own_group on box_count as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on box_count to sealtrail_app;

create table box_movement (
  group_id uuid not null,
  box_movement_id uuid not null,
  box_type_id uuid not null,
  from_site_id uuid,
  to_site_id uuid,
  supplier_id uuid,
  dispatch_id uuid,
  quantity integer not null,
  note text,
  occurred_at timestamp with time zone not null,
  recorded_at timestamp with time zone not null,
  recorded_by uuid not null,
  constraint box_movement_pkey PRIMARY KEY (group_id, box_movement_id),
  constraint box_movement_dispatch_fkey FOREIGN KEY (group_id, dispatch_id) REFERENCES dispatch(group_id, dispatch_id),
  constraint box_movement_from_fkey FOREIGN KEY (group_id, from_site_id) REFERENCES site(group_id, site_id),
  constraint box_movement_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id),
  constraint box_movement_supplier_fkey FOREIGN KEY (group_id, supplier_id) REFERENCES supplier(group_id, supplier_id),
  constraint box_movement_to_fkey FOREIGN KEY (group_id, to_site_id) REFERENCES site(group_id, site_id),
  constraint box_movement_type_fkey FOREIGN KEY (group_id, box_type_id) REFERENCES box_type(group_id, box_type_id),
  constraint box_movement_goes_somewhere CHECK ((from_site_id IS DISTINCT FROM to_site_id)),
  constraint box_movement_quantity_check CHECK ((quantity > 0))
);
alter table box_movement enable row level security;
alter table box_movement force row level security;
CREATE INDEX box_movement_from_idx ON public.box_movement USING btree (from_site_id, group_id) WHERE (from_site_id IS NOT NULL);
CREATE INDEX box_movement_to_idx ON public.box_movement USING btree (to_site_id, group_id) WHERE (to_site_id IS NOT NULL);
create policy own_group on box_movement as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on box_movement to sealtrail_app;

create table box_type (
  group_id uuid not null,
  box_type_id uuid not null,
  code text not null,
  name text not null,
  constraint box_type_pkey PRIMARY KEY (group_id, box_type_id),
  constraint box_type_code_key UNIQUE (code, group_id),
  constraint box_type_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id)
);
alter table box_type enable row level security;
alter table box_type force row level security;
create policy own_group on box_type as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on box_type to sealtrail_app;

create table catalogue_version (
  group_id uuid not null,
  kind text not null,
  object_id uuid not null,
  version integer not null,
  content jsonb not null,
  actor_id uuid not null,
  recorded_at timestamp with time zone not null,
  constraint catalogue_version_pkey PRIMARY KEY (group_id, kind, object_id, version),
  constraint catalogue_version_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id)
);
alter table catalogue_version enable row level security;
alter table catalogue_version force row level security;
create policy own_group on catalogue_version as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on catalogue_version to sealtrail_app;

create table clean_down (
  group_id uuid not null,
  clean_down_id uuid not null,
  equipment_id uuid not null,
  site_id uuid not null,
  kind text not null,
  note text,
  occurred_at timestamp with time zone not null,
  recorded_at timestamp with time zone not null,
  recorded_by uuid not null,
  constraint clean_down_pkey PRIMARY KEY (group_id, clean_down_id),
  constraint clean_down_equipment_fkey FOREIGN KEY (group_id, equipment_id) REFERENCES equipment(group_id, equipment_id),
  constraint clean_down_kind_check CHECK ((kind = ANY (ARRAY['full'::text, 'rinse'::text])))
);
alter table clean_down enable row level security;
alter table clean_down force row level security;
CREATE INDEX clean_down_machine_idx ON public.clean_down USING btree (equipment_id, group_id, occurred_at, clean_down_id);
create policy own_group on clean_down as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on clean_down to sealtrail_app;

create table control_factor_statement (
  group_id uuid not null,
  statement_id uuid not null,
  batch_id uuid not null,
  factor text not null,
  value numeric(7,3) not null,
  minutes numeric(7,2),
  signed_by text not null,
  document text,
  recorded_at timestamp with time zone not null,
  recorded_by uuid not null,
  check_id uuid,
  constraint control_factor_statement_pkey PRIMARY KEY (group_id, statement_id),
  constraint control_factor_statement_batch_fkey FOREIGN KEY (group_id, batch_id) REFERENCES batch(group_id, batch_id),
  constraint control_factor_statement_check_fkey FOREIGN KEY (group_id, check_id) REFERENCES process_check(group_id, check_id),
  constraint control_factor_statement_check_is_heat CHECK (((check_id IS NULL) OR (factor = 'heat'::text))),
  constraint control_factor_statement_factor_check CHECK ((factor = ANY (ARRAY['heat'::text, 'ph'::text, 'salt'::text, 'water-activity'::text]))),
  constraint control_factor_statement_minutes CHECK (((minutes IS NOT NULL) = (factor = 'heat'::text)))
);
alter table control_factor_statement enable row level security;
alter table control_factor_statement force row level security;
CREATE INDEX control_factor_statement_batch_idx ON public.control_factor_statement USING btree (batch_id, group_id);
CREATE INDEX control_factor_statement_check_idx ON public.control_factor_statement USING btree (check_id, group_id) WHERE (check_id IS NOT NULL);
create policy own_group on control_factor_statement as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on control_factor_statement to sealtrail_app;

create table conversion (
  group_id uuid not null,
  conversion_id uuid not null,
  kind text not null,
  site_id uuid not null,
  from_lot_id uuid not null,
  from_quantity bigint not null,
  to_lot_id uuid not null,
  scan_id uuid,
  stays boolean default false not null,
  constraint conversion_pkey PRIMARY KEY (group_id, conversion_id),
  constraint conversion_from_fkey FOREIGN KEY (group_id, from_lot_id) REFERENCES lot(group_id, lot_id),
  constraint conversion_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id),
  constraint conversion_scan_fkey FOREIGN KEY (group_id, scan_id) REFERENCES scan(group_id, scan_id),
  constraint conversion_site_fkey FOREIGN KEY (group_id, site_id) REFERENCES site(group_id, site_id),
  constraint conversion_to_fkey FOREIGN KEY (group_id, to_lot_id) REFERENCES lot(group_id, lot_id),
  constraint conversion_from_quantity_check CHECK ((from_quantity > 0)),
  constraint conversion_kind_check CHECK ((kind = ANY (ARRAY['open'::text, 'decant'::text, 'portion'::text, 'regenerate'::text, 'cook'::text, 'freeze'::text, 'thaw'::text, 'sample'::text]))),
  constraint conversion_stays_by_scan CHECK (((NOT stays) OR (scan_id IS NOT NULL)))
);
alter table conversion enable row level security;
alter table conversion force row level security;
CREATE INDEX conversion_sample_idx ON public.conversion USING btree (site_id, conversion_id, group_id) WHERE (kind = 'sample'::text);
CREATE UNIQUE INDEX conversion_scan_key ON public.conversion USING btree (scan_id, group_id) WHERE (scan_id IS NOT NULL);
CREATE UNIQUE INDEX conversion_to_key ON public.conversion USING btree (to_lot_id, group_id);
create policy own_group on conversion as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on conversion to sealtrail_app;

create table corrective_action (
  group_id uuid not null,
  action_id uuid not null,
  check_id uuid not null,
  action text not null,
  closes boolean not null,
  occurred_at timestamp with time zone not null,
  recorded_at timestamp with time zone not null,
  recorded_by uuid not null,
  action_no bigint generated always as identity not null,
  constraint corrective_action_pkey PRIMARY KEY (group_id, action_id),
  constraint corrective_action_check_fkey FOREIGN KEY (group_id, check_id) REFERENCES process_check(group_id, check_id),
  constraint corrective_action_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id)
);
alter table corrective_action enable row level security;
alter table corrective_action force row level security;
CREATE INDEX corrective_action_check ON public.corrective_action USING btree (check_id, action_no, group_id);
create policy own_group on corrective_action as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on corrective_action to sealtrail_app;

create table cost_checkpoint (
  group_id uuid not null,
  seq bigint not null,
  money_no bigint not null,
  made_at timestamp with time zone not null,
  constraint cost_checkpoint_pkey PRIMARY KEY (group_id, seq, money_no),
  constraint cost_checkpoint_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id)
);
alter table cost_checkpoint enable row level security;
alter table cost_checkpoint force row level security;
create policy own_group on cost_checkpoint as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on cost_checkpoint to sealtrail_app;

create table cost_rate (
  group_id uuid not null,
  cost_rate_id uuid not null,
  kind text not null,
  site_id uuid,
  recipe_id uuid,
  per_batch_minor bigint,
  per_kg_minor bigint,
  from_date date not null,
  through_date date,
  note text,
  money_no bigint not null,
  recorded_by uuid not null,
  recorded_at timestamp with time zone not null,
  constraint cost_rate_pkey PRIMARY KEY (group_id, cost_rate_id),
  constraint cost_rate_money_key UNIQUE (group_id, money_no),
  constraint cost_rate_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id),
  constraint cost_rate_recipe_fkey FOREIGN KEY (group_id, recipe_id) REFERENCES recipe(group_id, recipe_id),
  constraint cost_rate_site_fkey FOREIGN KEY (group_id, site_id) REFERENCES site(group_id, site_id),
  constraint cost_rate_days CHECK ((through_date >= from_date)),
  constraint cost_rate_kind_check CHECK ((kind = ANY (ARRAY['labour'::text, 'energy'::text, 'overhead'::text, 'packaging'::text]))),
  constraint cost_rate_one_basis CHECK (((per_batch_minor IS NULL) <> (per_kg_minor IS NULL))),
  constraint cost_rate_per_batch_minor_check CHECK ((per_batch_minor >= 0)),
  constraint cost_rate_per_kg_minor_check CHECK ((per_kg_minor >= 0))
);
alter table cost_rate enable row level security;
alter table cost_rate force row level security;
create policy own_group on cost_rate as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on cost_rate to sealtrail_app;

create table count_line (
  group_id uuid not null,
  count_id uuid not null,
  lot_id uuid not null,
  account_id uuid not null,
  occurred_at timestamp with time zone not null,
  counted bigint not null,
  constraint count_line_pkey PRIMARY KEY (group_id, count_id, lot_id, account_id),
  constraint count_line_account_fkey FOREIGN KEY (group_id, account_id) REFERENCES account(group_id, account_id),
  constraint count_line_count_fkey FOREIGN KEY (group_id, count_id) REFERENCES stock_count(group_id, count_id),
  constraint count_line_lot_fkey FOREIGN KEY (group_id, lot_id) REFERENCES lot(group_id, lot_id),
  constraint count_line_counted_check CHECK ((counted >= 0))
);
alter table count_line enable row level security;
alter table count_line force row level security;
CREATE INDEX count_line_part_idx ON public.count_line USING btree (group_id, lot_id, account_id, occurred_at, count_id);
create policy own_group on count_line as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on count_line to sealtrail_app;

create table crate (
  group_id uuid not null,
  crate_id uuid not null,
  code text not null,
  sscc text,
  kind text not null,
  box_type_id uuid,
  site_id uuid not null,
  order_id uuid not null,
  "position" integer not null,
  made_at timestamp with time zone not null,
  made_by uuid not null,
  constraint crate_pkey PRIMARY KEY (group_id, crate_id),
  constraint crate_code_key UNIQUE (code, group_id),
  constraint crate_order_key UNIQUE (order_id, "position", group_id),
  constraint crate_box_type_fkey FOREIGN KEY (group_id, box_type_id) REFERENCES box_type(group_id, box_type_id),
  constraint crate_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id),
  constraint crate_site_fkey FOREIGN KEY (group_id, site_id) REFERENCES site(group_id, site_id),
  constraint crate_kind_check CHECK ((kind = ANY (ARRAY['crate'::text, 'roll-cage'::text, 'pallet'::text]))),
  constraint crate_position_check CHECK (("position" > 0)),
  constraint crate_sscc_check CHECK ((sscc ~ '^[0-9]{18}$'::text)),
  constraint crate_sscc_is_code CHECK (((sscc IS NULL) OR (sscc = code)))
);
alter table crate enable row level security;
alter table crate force row level security;
CREATE INDEX crate_site_idx ON public.crate USING btree (site_id, group_id, crate_id);
create policy own_group on crate as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on crate to sealtrail_app;

create table crate_placement (
  group_id uuid not null,
  crate_placement_id uuid not null,
  crate_id uuid not null,
  into_crate_id uuid,
  site_id uuid not null,
  occurred_at timestamp with time zone not null,
  recorded_at timestamp with time zone not null,
  recorded_by uuid not null,
  constraint crate_placement_pkey PRIMARY KEY (group_id, crate_placement_id),
  constraint crate_placement_crate_fkey FOREIGN KEY (group_id, crate_id) REFERENCES crate(group_id, crate_id),
  constraint crate_placement_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id),
  constraint crate_placement_into_fkey FOREIGN KEY (group_id, into_crate_id) REFERENCES crate(group_id, crate_id),
  constraint crate_placement_site_fkey FOREIGN KEY (group_id, site_id) REFERENCES site(group_id, site_id),
  constraint crate_placement_in_another CHECK ((crate_id <> into_crate_id))
);
alter table crate_placement enable row level security;
alter table crate_placement force row level security;
CREATE INDEX crate_placement_crate_idx ON public.crate_placement USING btree (crate_id, occurred_at, crate_placement_id, group_id);
CREATE INDEX crate_placement_into_idx ON public.crate_placement USING btree (into_crate_id, group_id) WHERE (into_crate_id IS NOT NULL);
create policy own_group on crate_placement as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on crate_placement to sealtrail_app;

create table deputy (
  group_id uuid not null,
  deputy_id uuid not null,
  person_id uuid not null,
  role text not null,
  site_id uuid,
  from_at timestamp with time zone not null,
  to_at timestamp with time zone not null,
  reason text not null,
  appointed_by uuid not null,
  appointed_at timestamp with time zone not null,
  ended_at timestamp with time zone,
  ended_by uuid,
  constraint deputy_pkey PRIMARY KEY (group_id, deputy_id),
  constraint deputy_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id),
  constraint deputy_person_fkey FOREIGN KEY (group_id, person_id) REFERENCES person(group_id, person_id),
  constraint deputy_site_fkey FOREIGN KEY (group_id, site_id) REFERENCES site(group_id, site_id),
  constraint deputy_end_whole CHECK (((ended_at IS NULL) = (ended_by IS NULL))),
  constraint deputy_period CHECK (((to_at > from_at) AND (to_at <= (from_at + '744:00:00'::interval)))),
  constraint deputy_role_check CHECK ((role = 'quality'::text))
);
alter table deputy enable row level security;
alter table deputy force row level security;
CREATE INDEX deputy_person_idx ON public.deputy USING btree (person_id, group_id);
create policy own_group on deputy as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on deputy to sealtrail_app;
grant update (ended_at, ended_by) on deputy to sealtrail_app;

create table device (
  group_id uuid not null,
  device_id uuid not null,
  name text not null,
  site_id uuid not null,
  secret_hash bytea,
  active boolean default true not null,
  version integer default 1 not null,
  pin_failed_at timestamp with time zone[] default '{}'::timestamp with time zone[] not null,
  constraint device_pkey PRIMARY KEY (group_id, device_id),
  constraint device_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id),
  constraint device_secret_hash_check CHECK ((octet_length(secret_hash) = 32))
);
alter table device enable row level security;
alter table device force row level security;
create policy own_group on device as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on device to sealtrail_app;
grant update (name, secret_hash, active, version, pin_failed_at) on device to sealtrail_app;

create table dispatch (
  group_id uuid not null,
  dispatch_id uuid not null,
  code text not null,
  from_site_id uuid not null,
  to_site_id uuid not null,
  purpose text not null,
  state text not null,
  planned_for timestamp with time zone,
  departed_at timestamp with time zone,
  vehicle text,
  driver_name text,
  version integer default 1 not null,
  borrowed boolean default false not null,
  refused_from_id uuid,
  constraint dispatch_pkey PRIMARY KEY (group_id, dispatch_id),
  constraint dispatch_code_key UNIQUE (code, group_id),
  constraint dispatch_from_fkey FOREIGN KEY (group_id, from_site_id) REFERENCES site(group_id, site_id),
  constraint dispatch_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id),
  constraint dispatch_refused_from_fkey FOREIGN KEY (group_id, refused_from_id) REFERENCES dispatch(group_id, dispatch_id),
  constraint dispatch_to_fkey FOREIGN KEY (group_id, to_site_id) REFERENCES site(group_id, site_id),
  constraint dispatch_goes_somewhere CHECK ((from_site_id <> to_site_id)),
  constraint dispatch_purpose_check CHECK ((purpose = ANY (ARRAY['delivery'::text, 'return'::text, 'destruction'::text]))),
  constraint dispatch_state_check CHECK ((state = ANY (ARRAY['planned'::text, 'departed'::text, 'closed'::text])))
);
alter table dispatch enable row level security;
alter table dispatch force row level security;
CREATE INDEX dispatch_from_idx ON public.dispatch USING btree (from_site_id, group_id, dispatch_id);
CREATE INDEX dispatch_refused_from_idx ON public.dispatch USING btree (refused_from_id, group_id) WHERE (refused_from_id IS NOT NULL);
CREATE INDEX dispatch_to_idx ON public.dispatch USING btree (to_site_id, group_id, dispatch_id);
CREATE INDEX dispatch_vehicle_idx ON public.dispatch USING btree (vehicle, group_id, departed_at) WHERE (vehicle IS NOT NULL);
create policy own_group on dispatch as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on dispatch to sealtrail_app;
grant update (state, planned_for, departed_at, vehicle, driver_name, version) on dispatch to sealtrail_app;

create table dispatch_line (
  group_id uuid not null,
  dispatch_id uuid not null,
  line_no integer not null,
  lot_id uuid not null,
  place_id uuid,
  quantity bigint not null,
  serials text[] default '{}'::text[] not null,
  crate_code text,
  requirement_id uuid,
  constraint dispatch_line_pkey PRIMARY KEY (group_id, dispatch_id, line_no),
  constraint dispatch_line_dispatch_fkey FOREIGN KEY (group_id, dispatch_id) REFERENCES dispatch(group_id, dispatch_id),
  constraint dispatch_line_lot_fkey FOREIGN KEY (group_id, lot_id) REFERENCES lot(group_id, lot_id),
  constraint dispatch_line_requirement_fkey FOREIGN KEY (group_id, requirement_id) REFERENCES requirement(group_id, requirement_id),
  constraint dispatch_line_quantity_check CHECK ((quantity > 0))
);
alter table dispatch_line enable row level security;
alter table dispatch_line force row level security;
CREATE INDEX dispatch_line_crate_idx ON public.dispatch_line USING btree (group_id, crate_code) WHERE (crate_code IS NOT NULL);
CREATE INDEX dispatch_line_lot_idx ON public.dispatch_line USING btree (group_id, lot_id);
CREATE INDEX dispatch_line_requirement_idx ON public.dispatch_line USING btree (requirement_id, group_id) WHERE (requirement_id IS NOT NULL);
create policy own_group on dispatch_line as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant delete, insert, select on dispatch_line to sealtrail_app;

create table doubtful_input (
  group_id uuid not null,
  entry_id uuid not null,
  batch_id uuid not null,
  lot_id uuid not null,
  reasons text[] not null,
  constraint doubtful_input_pkey PRIMARY KEY (group_id, entry_id, lot_id),
  constraint doubtful_input_batch_fkey FOREIGN KEY (group_id, batch_id) REFERENCES batch(group_id, batch_id),
  constraint doubtful_input_lot_fkey FOREIGN KEY (group_id, lot_id) REFERENCES lot(group_id, lot_id),
  constraint doubtful_input_reasons_check CHECK ((cardinality(reasons) > 0))
);
alter table doubtful_input enable row level security;
alter table doubtful_input force row level security;
CREATE INDEX doubtful_input_batch_idx ON public.doubtful_input USING btree (group_id, batch_id);
create policy own_group on doubtful_input as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on doubtful_input to sealtrail_app;

create table drop_time (
  group_id uuid not null,
  drop_time_id uuid not null,
  van_run_id uuid not null,
  dispatch_id uuid not null,
  "position" integer not null,
  arrived_at timestamp with time zone,
  door_at timestamp with time zone,
  put_away_at timestamp with time zone,
  recorded_at timestamp with time zone not null,
  recorded_by uuid not null,
  constraint drop_time_pkey PRIMARY KEY (group_id, drop_time_id),
  constraint drop_time_once_key UNIQUE (van_run_id, dispatch_id, "position", group_id),
  constraint drop_time_dispatch_fkey FOREIGN KEY (group_id, dispatch_id) REFERENCES dispatch(group_id, dispatch_id),
  constraint drop_time_run_fkey FOREIGN KEY (group_id, van_run_id) REFERENCES van_run(group_id, van_run_id),
  constraint drop_time_position_check CHECK (("position" > 0)),
  constraint drop_time_says_something CHECK (((arrived_at IS NOT NULL) OR (door_at IS NOT NULL) OR (put_away_at IS NOT NULL)))
);
alter table drop_time enable row level security;
alter table drop_time force row level security;
CREATE INDEX drop_time_dispatch_idx ON public.drop_time USING btree (dispatch_id, group_id, "position");
create policy own_group on drop_time as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on drop_time to sealtrail_app;

create table entry (
  group_id uuid not null,
  seq bigint not null,
  entry_id uuid not null,
  kind text not null,
  fact_id uuid not null,
  site_id uuid not null,
  occurred_at timestamp with time zone not null,
  occurred_on date not null,
  recorded_at timestamp with time zone not null,
  actor_id uuid not null,
  clock_offset_ms bigint,
  content_hash bytea not null,
  leaf_hash bytea not null,
  reverses_entry_id uuid,
  batch_id uuid,
  packing_run_id uuid,
  dispatch_id uuid,
  count_id uuid,
  scan_id uuid,
  note jsonb default '{}'::jsonb not null,
  constraint entry_pkey PRIMARY KEY (group_id, seq),
  constraint entry_id_key UNIQUE (entry_id, group_id),
  constraint entry_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id),
  constraint entry_reverses_fkey FOREIGN KEY (group_id, reverses_entry_id) REFERENCES entry(group_id, entry_id),
  constraint entry_site_fkey FOREIGN KEY (group_id, site_id) REFERENCES site(group_id, site_id),
  constraint entry_content_hash_check CHECK ((octet_length(content_hash) = 32)),
  constraint entry_kind_check CHECK ((kind = ANY (ARRAY['opening-stock'::text, 'goods-receipt'::text, 'batch-input'::text, 'batch-output'::text, 'packing'::text, 'move'::text, 'dispatch'::text, 'receipt'::text, 'use'::text, 'discard'::text, 'return'::text, 'stock-count'::text, 'conversion'::text, 'reversal'::text]))),
  constraint entry_leaf_hash_check CHECK ((octet_length(leaf_hash) = 32)),
  constraint entry_reversal_by_kind CHECK (((kind = 'reversal'::text) = (reverses_entry_id IS NOT NULL)))
);
alter table entry enable row level security;
alter table entry force row level security;
CREATE INDEX entry_batch_idx ON public.entry USING btree (group_id, batch_id) WHERE (batch_id IS NOT NULL);
CREATE INDEX entry_count_idx ON public.entry USING btree (group_id, count_id) WHERE (count_id IS NOT NULL);
CREATE INDEX entry_dispatch_idx ON public.entry USING btree (group_id, dispatch_id) WHERE (dispatch_id IS NOT NULL);
CREATE INDEX entry_fact_idx ON public.entry USING btree (fact_id, group_id);
CREATE UNIQUE INDEX entry_reversed_once_key ON public.entry USING btree (group_id, reverses_entry_id) WHERE (reverses_entry_id IS NOT NULL);
CREATE INDEX entry_run_idx ON public.entry USING btree (packing_run_id, group_id) WHERE (packing_run_id IS NOT NULL);
CREATE INDEX entry_scan_idx ON public.entry USING btree (group_id, scan_id) WHERE (scan_id IS NOT NULL);
create policy own_group on entry as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on entry to sealtrail_app;

create table epcis_capture (
  group_id uuid not null,
  capture_id uuid not null,
  recorded_at timestamp with time zone not null,
  captured_by uuid not null,
  site_ids uuid[],
  error_behaviour text not null,
  content_hash bytea not null,
  document bytea not null,
  event_count integer not null,
  errors jsonb not null,
  unused jsonb not null,
  constraint epcis_capture_pkey PRIMARY KEY (group_id, capture_id),
  constraint epcis_capture_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id),
  constraint epcis_capture_error_behaviour_check CHECK ((error_behaviour = ANY (ARRAY['rollback'::text, 'proceed'::text]))),
  constraint epcis_capture_event_count_check CHECK ((event_count > 0))
);
alter table epcis_capture enable row level security;
alter table epcis_capture force row level security;
create policy own_group on epcis_capture as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on epcis_capture to sealtrail_app;

create table epcis_event (
  group_id uuid not null,
  event_no bigint not null,
  event_id text not null,
  source text not null,
  site_ids uuid[] not null,
  lot_ids uuid[] not null,
  dispatch_id uuid,
  type text not null,
  action text,
  event_time timestamp with time zone not null,
  record_time timestamp with time zone not null,
  biz_step text,
  disposition text,
  dispositions_set text[] default '{}'::text[] not null,
  dispositions_unset text[] default '{}'::text[] not null,
  read_point text,
  biz_location text,
  transformation_id text,
  parent text,
  epcs text[] default '{}'::text[] not null,
  input_epcs text[] default '{}'::text[] not null,
  output_epcs text[] default '{}'::text[] not null,
  classes text[] default '{}'::text[] not null,
  input_classes text[] default '{}'::text[] not null,
  output_classes text[] default '{}'::text[] not null,
  error_declared_at timestamp with time zone,
  error_reason text,
  corrective_event_ids text[] default '{}'::text[] not null,
  body jsonb not null,
  constraint epcis_event_pkey PRIMARY KEY (group_id, event_no),
  constraint epcis_event_source_key UNIQUE (source, group_id),
  constraint epcis_event_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id),
  constraint epcis_event_action_check CHECK ((action = ANY (ARRAY['ADD'::text, 'OBSERVE'::text, 'DELETE'::text]))),
  constraint epcis_event_event_no_check CHECK ((event_no >= 1)),
  constraint epcis_event_type_check CHECK ((type = ANY (ARRAY['ObjectEvent'::text, 'AggregationEvent'::text, 'TransactionEvent'::text, 'TransformationEvent'::text, 'AssociationEvent'::text])))
);
alter table epcis_event enable row level security;
alter table epcis_event force row level security;
CREATE INDEX epcis_event_dispatch_idx ON public.epcis_event USING btree (dispatch_id, group_id) WHERE (dispatch_id IS NOT NULL);
CREATE INDEX epcis_event_id_idx ON public.epcis_event USING btree (event_id, group_id);
CREATE INDEX epcis_event_lots_idx ON public.epcis_event USING gin (lot_ids);
CREATE INDEX epcis_event_things_idx ON public.epcis_event USING gin (((((((epcs || input_epcs) || output_epcs) || classes) || input_classes) || output_classes)));
CREATE INDEX epcis_event_time_idx ON public.epcis_event USING btree (event_time, group_id, event_no);
create policy own_group on epcis_event as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on epcis_event to sealtrail_app;

create table epcis_head (
  group_id uuid not null,
  last_no bigint default 0 not null,
  last_seq bigint default 0 not null,
  constraint epcis_head_pkey PRIMARY KEY (group_id),
  constraint epcis_head_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id),
  constraint epcis_head_last_no_check CHECK ((last_no >= 0)),
  constraint epcis_head_last_seq_check CHECK ((last_seq >= 0))
);
alter table epcis_head enable row level security;
alter table epcis_head force row level security;
create policy own_group on epcis_head as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on epcis_head to sealtrail_app;
grant update (last_no, last_seq) on epcis_head to sealtrail_app;

create table epcis_place_day (
  group_id uuid not null,
  place_id uuid not null,
  day date not null,
  version integer not null,
  computed_at timestamp with time zone not null,
  constraint epcis_place_day_pkey PRIMARY KEY (group_id, place_id, day),
  constraint epcis_place_day_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id),
  constraint epcis_place_day_version_check CHECK ((version >= 0))
);
alter table epcis_place_day enable row level security;
alter table epcis_place_day force row level security;
create policy own_group on epcis_place_day as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on epcis_place_day to sealtrail_app;
grant update (version, computed_at) on epcis_place_day to sealtrail_app;

create table epcis_placement (
  group_id uuid not null,
  crate_placement_id uuid not null,
  constraint epcis_placement_pkey PRIMARY KEY (group_id, crate_placement_id),
  constraint epcis_placement_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id)
);
alter table epcis_placement enable row level security;
alter table epcis_placement force row level security;
create policy own_group on epcis_placement as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on epcis_placement to sealtrail_app;

create table equipment (
  group_id uuid not null,
  equipment_id uuid not null,
  site_id uuid not null,
  code text not null,
  name text not null,
  kind text not null,
  active boolean default true not null,
  version integer default 1 not null,
  constraint equipment_pkey PRIMARY KEY (group_id, equipment_id),
  constraint equipment_code_key UNIQUE (group_id, site_id, code),
  constraint equipment_site_fkey FOREIGN KEY (group_id, site_id) REFERENCES site(group_id, site_id),
  constraint equipment_kind_check CHECK ((kind = ANY (ARRAY['vacuum-packer'::text, 'blast-chiller'::text, 'oven'::text, 'kettle'::text, 'probe'::text, 'scale'::text, 'other'::text])))
);
alter table equipment enable row level security;
alter table equipment force row level security;
create policy own_group on equipment as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on equipment to sealtrail_app;
grant update (name, active, version) on equipment to sealtrail_app;

create table event (
  group_id uuid not null,
  event_no bigint not null,
  event_id uuid not null,
  type text not null,
  recorded_at timestamp with time zone not null,
  numbered_at timestamp with time zone not null,
  site_ids uuid[] not null,
  href text,
  data jsonb not null,
  source text not null,
  constraint event_pkey PRIMARY KEY (group_id, event_no),
  constraint event_source_key UNIQUE (source, group_id),
  constraint event_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id),
  constraint event_event_no_check CHECK ((event_no >= 1))
);
alter table event enable row level security;
alter table event force row level security;
CREATE INDEX event_numbered_idx ON public.event USING btree (numbered_at, group_id);
create policy own_group on event as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant delete, insert, select on event to sealtrail_app;

create table event_head (
  group_id uuid not null,
  last_no bigint default 0 not null,
  last_seq bigint default 0 not null,
  first_no bigint default 1 not null,
  constraint event_head_pkey PRIMARY KEY (group_id),
  constraint event_head_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id),
  constraint event_head_first_no_check CHECK ((first_no >= 1)),
  constraint event_head_last_no_check CHECK ((last_no >= 0)),
  constraint event_head_last_seq_check CHECK ((last_seq >= 0))
);
alter table event_head enable row level security;
alter table event_head force row level security;
create policy own_group on event_head as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on event_head to sealtrail_app;
grant update (last_no, last_seq, first_no) on event_head to sealtrail_app;

create table excursion (
  group_id uuid not null,
  excursion_id uuid not null,
  subject text not null,
  side text not null,
  site_id uuid not null,
  place_id uuid,
  limit_centi_c smallint not null,
  delay_ms integer not null,
  start_at timestamp with time zone not null,
  end_at timestamp with time zone,
  seen_to_at timestamp with time zone not null,
  peak_centi_c smallint not null,
  peak_at timestamp with time zone not null,
  outside_ms bigint not null,
  area_centi_ms bigint not null,
  unmonitored_ms bigint not null,
  suspected boolean not null,
  state text not null,
  version integer default 1 not null,
  first_found_at timestamp with time zone not null,
  updated_at timestamp with time zone not null,
  constraint excursion_pkey PRIMARY KEY (group_id, excursion_id),
  constraint excursion_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id),
  constraint excursion_place_fkey FOREIGN KEY (group_id, place_id) REFERENCES place(group_id, place_id),
  constraint excursion_site_fkey FOREIGN KEY (group_id, site_id) REFERENCES site(group_id, site_id),
  constraint excursion_area_centi_ms_check CHECK ((area_centi_ms >= 0)),
  constraint excursion_delay_ms_check CHECK ((delay_ms >= 0)),
  constraint excursion_end_by_state CHECK (((state = 'superseded'::text) OR ((end_at IS NULL) = (state = 'open'::text)))),
  constraint excursion_outside_ms_check CHECK ((outside_ms >= 0)),
  constraint excursion_side_check CHECK ((side = ANY (ARRAY['above'::text, 'below'::text]))),
  constraint excursion_state_check CHECK ((state = ANY (ARRAY['open'::text, 'ended'::text, 'superseded'::text]))),
  constraint excursion_unmonitored_ms_check CHECK ((unmonitored_ms >= 0))
);
alter table excursion enable row level security;
alter table excursion force row level security;
CREATE INDEX excursion_site_idx ON public.excursion USING btree (site_id, group_id, start_at, excursion_id);
CREATE INDEX excursion_subject_idx ON public.excursion USING btree (subject, group_id, start_at);
create policy own_group on excursion as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on excursion to sealtrail_app;
grant update (site_id, limit_centi_c, delay_ms, end_at, seen_to_at, peak_centi_c, peak_at, outside_ms, area_centi_ms, unmonitored_ms, suspected, state, version, updated_at) on excursion to sealtrail_app;

create table fact (
  group_id uuid not null,
  fact_id uuid not null,
  operation text not null,
  content jsonb not null,
  content_hash bytea not null,
  site_id uuid,
  status integer not null,
  answer jsonb not null,
  location text,
  actor_id uuid not null,
  recorded_at timestamp with time zone not null,
  device_id uuid,
  deputy_id uuid,
  constraint fact_pkey PRIMARY KEY (group_id, fact_id),
  constraint fact_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id),
  constraint fact_content_hash_check CHECK ((octet_length(content_hash) = 32))
);
alter table fact enable row level security;
alter table fact force row level security;
create policy own_group on fact as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on fact to sealtrail_app;

create table finding (
  group_id uuid not null,
  finding_id uuid not null,
  kind text not null,
  subject text not null,
  site_id uuid not null,
  lot_id uuid,
  quantity bigint,
  detail jsonb not null,
  occurred_at timestamp with time zone not null,
  recorded_at timestamp with time zone not null,
  status text default 'open'::text not null,
  settled_by uuid,
  settled_at timestamp with time zone,
  settlement_note text,
  version integer default 1 not null,
  constraint finding_pkey PRIMARY KEY (group_id, finding_id),
  constraint finding_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id),
  constraint finding_lot_fkey FOREIGN KEY (group_id, lot_id) REFERENCES lot(group_id, lot_id),
  constraint finding_site_fkey FOREIGN KEY (group_id, site_id) REFERENCES site(group_id, site_id),
  constraint finding_status_check CHECK ((status = ANY (ARRAY['open'::text, 'settled'::text, 'cleared'::text])))
);
alter table finding enable row level security;
alter table finding force row level security;
CREATE INDEX finding_lot_idx ON public.finding USING btree (lot_id, group_id) WHERE (lot_id IS NOT NULL);
CREATE UNIQUE INDEX finding_open_key ON public.finding USING btree (group_id, kind, subject) WHERE (status = 'open'::text);
CREATE INDEX finding_site_idx ON public.finding USING btree (group_id, site_id, recorded_at) WHERE (status = 'open'::text);
create policy own_group on finding as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on finding to sealtrail_app;
grant update (quantity, detail, status, settled_by, settled_at, settlement_note, version) on finding to sealtrail_app;

create table flow_stretch (
  group_id uuid not null,
  from_seq bigint not null,
  to_seq bigint not null,
  first_month date,
  last_month date,
  constraint flow_stretch_pkey PRIMARY KEY (group_id, to_seq),
  constraint flow_stretch_from_key UNIQUE (group_id, from_seq),
  constraint flow_stretch_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id),
  constraint flow_stretch_forward CHECK ((from_seq < to_seq)),
  constraint flow_stretch_from_seq_check CHECK ((from_seq >= 0))
);
alter table flow_stretch enable row level security;
alter table flow_stretch force row level security;
create policy own_group on flow_stretch as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on flow_stretch to sealtrail_app;

create table flow_way (
  group_id uuid not null,
  way_no integer not null,
  entry_kind text not null,
  undoes boolean not null,
  from_kind text not null,
  from_site_id uuid,
  to_kind text not null,
  to_site_id uuid,
  reason text,
  destination text,
  material text,
  constraint flow_way_pkey PRIMARY KEY (group_id, way_no),
  constraint flow_way_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id)
);
alter table flow_way enable row level security;
alter table flow_way force row level security;
CREATE UNIQUE INDEX flow_way_key ON public.flow_way USING btree (entry_kind, undoes, from_kind, from_site_id, to_kind, to_site_id, reason, destination, material, group_id) NULLS NOT DISTINCT;
create policy own_group on flow_way as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on flow_way to sealtrail_app;

create table goods_receipt (
  group_id uuid not null,
  goods_receipt_id uuid not null,
  site_id uuid not null,
  supplier_id uuid,
  document_number text,
  occurred_at timestamp with time zone not null,
  recorded_at timestamp with time zone not null,
  received_by uuid not null,
  shop_name text,
  shop_receipt_number text,
  constraint goods_receipt_pkey PRIMARY KEY (group_id, goods_receipt_id),
  constraint goods_receipt_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id),
  constraint goods_receipt_site_fkey FOREIGN KEY (group_id, site_id) REFERENCES site(group_id, site_id),
  constraint goods_receipt_supplier_fkey FOREIGN KEY (group_id, supplier_id) REFERENCES supplier(group_id, supplier_id),
  constraint goods_receipt_source_check CHECK (((supplier_id IS NULL) = (shop_name IS NOT NULL)))
);
alter table goods_receipt enable row level security;
alter table goods_receipt force row level security;
create policy own_group on goods_receipt as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on goods_receipt to sealtrail_app;

create table goods_receipt_line (
  group_id uuid not null,
  goods_receipt_id uuid not null,
  line_no integer not null,
  lot_id uuid,
  place_id uuid,
  quantity bigint not null,
  temperature_c numeric(5,2),
  price_minor bigint,
  item_id uuid,
  delivery_line_no integer,
  entry_unit text,
  entry_quantity numeric(15,3),
  rejected_quantity bigint default 0 not null,
  rejected_reason text,
  supplier_lot_code text,
  use_by_date date,
  best_before_date date,
  allergens_confirmed boolean default false not null,
  place_presumed boolean default false not null,
  constraint goods_receipt_line_pkey PRIMARY KEY (group_id, goods_receipt_id, line_no),
  constraint goods_receipt_line_item_fkey FOREIGN KEY (group_id, item_id) REFERENCES item(group_id, item_id),
  constraint goods_receipt_line_lot_fkey FOREIGN KEY (group_id, lot_id) REFERENCES lot(group_id, lot_id),
  constraint goods_receipt_line_receipt_fkey FOREIGN KEY (group_id, goods_receipt_id) REFERENCES goods_receipt(group_id, goods_receipt_id),
  constraint goods_receipt_line_item_check CHECK (((lot_id IS NOT NULL) OR (item_id IS NOT NULL))),
  constraint goods_receipt_line_price_minor_check CHECK ((price_minor >= 0)),
  constraint goods_receipt_line_quantity_check CHECK (((quantity >= 0) AND (rejected_quantity >= 0) AND ((quantity + rejected_quantity) > 0))),
  constraint goods_receipt_line_rejected_check CHECK (((rejected_quantity > 0) = (rejected_reason IS NOT NULL))),
  constraint goods_receipt_line_taken_check CHECK ((((quantity > 0) = (lot_id IS NOT NULL)) AND ((quantity > 0) = (place_id IS NOT NULL))))
);
alter table goods_receipt_line enable row level security;
alter table goods_receipt_line force row level security;
create policy own_group on goods_receipt_line as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on goods_receipt_line to sealtrail_app;

create table group_head (
  group_id uuid not null,
  last_seq bigint default 0 not null,
  last_recorded_at timestamp with time zone not null,
  last_money_no bigint default 0 not null,
  constraint group_head_pkey PRIMARY KEY (group_id),
  constraint group_head_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id),
  constraint group_head_last_seq_check CHECK ((last_seq >= 0))
);
alter table group_head enable row level security;
alter table group_head force row level security;
create policy own_group on group_head as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select, update on group_head to sealtrail_app;

create table group_queue (
  group_id uuid not null,
  constraint group_queue_pkey PRIMARY KEY (group_id),
  constraint group_queue_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id)
);
alter table group_queue enable row level security;
alter table group_queue force row level security;
create policy own_group on group_queue as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
create policy sweep on group_queue as permissive for select to sealtrail_queue using (true);
grant insert, select on group_queue to sealtrail_app;
grant select on group_queue to sealtrail_queue;

create table groups (
  group_id uuid not null,
  code text not null,
  name text not null,
  currency text not null,
  created_at timestamp with time zone not null,
  address jsonb,
  group_no integer generated always as identity not null,
  gs1_company_prefix text,
  constraint groups_pkey PRIMARY KEY (group_id),
  constraint groups_code_key UNIQUE (code),
  constraint groups_no_key UNIQUE (group_no),
  constraint groups_address_check CHECK ((jsonb_typeof(address) = 'object'::text)),
  constraint groups_currency_check CHECK ((currency ~ '^[A-Z]{3}$'::text)),
  constraint groups_gs1_company_prefix_check CHECK ((gs1_company_prefix ~ '^[0-9]{4,12}$'::text))
);
alter table groups enable row level security;
alter table groups force row level security;
create policy own_group on groups as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on groups to sealtrail_app;
grant update (address, gs1_company_prefix) on groups to sealtrail_app;

create table hold (
  group_id uuid not null,
  hold_id uuid not null,
  kind text not null,
  lot_id uuid not null,
  site_id uuid,
  account_id uuid,
  propagates boolean not null,
  note text,
  placed_at timestamp with time zone not null,
  placed_by uuid not null,
  lifted_at timestamp with time zone,
  lifted_by uuid,
  lift_note text,
  placed_deputy_id uuid,
  lifted_deputy_id uuid,
  use_by_at timestamp with time zone,
  ruling text,
  result_id uuid,
  came_from_id uuid,
  labelled_at timestamp with time zone,
  constraint hold_pkey PRIMARY KEY (group_id, hold_id),
  constraint hold_account_fkey FOREIGN KEY (group_id, account_id) REFERENCES account(group_id, account_id),
  constraint hold_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id),
  constraint hold_lot_fkey FOREIGN KEY (group_id, lot_id) REFERENCES lot(group_id, lot_id),
  constraint hold_lift_whole CHECK (((lifted_at IS NULL) = (lifted_by IS NULL))),
  constraint hold_local_stays CHECK (((NOT propagates) OR ((site_id IS NULL) AND (account_id IS NULL)))),
  constraint hold_one_scope CHECK (((site_id IS NULL) OR (account_id IS NULL))),
  constraint hold_use_by_whole CHECK (
CASE
    WHEN (kind = 'use-by'::text) THEN ((use_by_at IS NOT NULL) AND (ruling IS NOT NULL) AND (account_id IS NOT NULL))
    ELSE ((use_by_at IS NULL) AND (ruling IS NULL) AND (result_id IS NULL) AND (came_from_id IS NULL) AND (labelled_at IS NULL))
END)
);
alter table hold enable row level security;
alter table hold force row level security;
CREATE INDEX hold_lot_idx ON public.hold USING btree (lot_id, group_id);
CREATE UNIQUE INDEX hold_use_by_idx ON public.hold USING btree (lot_id, account_id, group_id) WHERE ((kind = 'use-by'::text) AND (lifted_at IS NULL));
create policy own_group on hold as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on hold to sealtrail_app;
grant update (lifted_at, lifted_by, lift_note, lifted_deputy_id, labelled_at) on hold to sealtrail_app;

create table hold_reach (
  group_id uuid not null,
  hold_id uuid not null,
  lot_id uuid not null,
  cause_lot_id uuid,
  reached_at timestamp with time zone not null,
  process_id uuid,
  fact_id uuid,
  reach_no bigint generated always as identity not null,
  constraint hold_reach_pkey PRIMARY KEY (group_id, hold_id, lot_id),
  constraint hold_reach_lot_fkey FOREIGN KEY (group_id, lot_id) REFERENCES lot(group_id, lot_id)
);
alter table hold_reach enable row level security;
alter table hold_reach force row level security;
CREATE INDEX hold_reach_lot_idx ON public.hold_reach USING btree (group_id, lot_id);
create policy own_group on hold_reach as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on hold_reach to sealtrail_app;

create table hold_watch (
  group_id uuid not null,
  hold_id uuid not null,
  supplier_id uuid not null,
  supplier_lot_key text not null,
  constraint hold_watch_pkey PRIMARY KEY (group_id, hold_id, supplier_id, supplier_lot_key),
  constraint hold_watch_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id),
  constraint hold_watch_hold_fkey FOREIGN KEY (group_id, hold_id) REFERENCES hold(group_id, hold_id),
  constraint hold_watch_supplier_lot_key_check CHECK ((supplier_lot_key <> ''::text))
);
alter table hold_watch enable row level security;
alter table hold_watch force row level security;
CREATE INDEX hold_watch_key_idx ON public.hold_watch USING btree (supplier_lot_key, supplier_id, group_id);
create policy own_group on hold_watch as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on hold_watch to sealtrail_app;

create table item (
  group_id uuid not null,
  item_id uuid not null,
  code text not null,
  name text not null,
  kind text not null,
  unit text not null,
  net_weight_mg bigint not null,
  gtin text,
  allergens text[] default '{}'::text[] not null,
  may_contain text[] default '{}'::text[] not null,
  handling text not null,
  storage_instruction text not null,
  life_days integer,
  life_h integer,
  life_anchor text,
  life_day_one text,
  opened_life_h integer,
  lot_tracked boolean default true not null,
  active boolean default true not null,
  version integer default 1 not null,
  storage text default 'chilled'::text not null,
  texture_level smallint,
  diet_codes text[] default '{}'::text[] not null,
  portions_per_unit integer,
  opened_item_id uuid,
  frozen_life_days integer,
  thawed_life_h integer,
  regenerated_life_h integer,
  entry_units jsonb default '[]'::jsonb not null,
  category text,
  ingredients text,
  constraint item_pkey PRIMARY KEY (group_id, item_id),
  constraint item_code_key UNIQUE (group_id, code),
  constraint item_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id),
  constraint item_opened_item_fkey FOREIGN KEY (group_id, opened_item_id) REFERENCES item(group_id, item_id),
  constraint item_allergen_is_tracked CHECK ((lot_tracked OR (cardinality(allergens) = 0))),
  constraint item_frozen_life_days_check CHECK (((frozen_life_days >= 1) AND (frozen_life_days <= 3650))),
  constraint item_gtin_check CHECK ((gtin ~ '^[0-9]{14}$'::text)),
  constraint item_handling_check CHECK ((handling = ANY (ARRAY['raw'::text, 'ready-to-eat'::text]))),
  constraint item_ingredients_check CHECK (((length(ingredients) >= 1) AND (length(ingredients) <= 4000))),
  constraint item_kind_check CHECK ((kind = ANY (ARRAY['ingredient'::text, 'prepared'::text, 'packed'::text, 'packaging'::text]))),
  constraint item_life_anchor_check CHECK ((life_anchor = ANY (ARRAY['end-of-cooking'::text, 'first-seal'::text, 'thaw-start'::text, 'opening'::text, 'production'::text]))),
  constraint item_life_day_one_check CHECK ((life_day_one = ANY (ARRAY['anchor-day-is-day-one'::text, 'day-after-is-day-one'::text]))),
  constraint item_life_days_check CHECK (((life_days >= 1) AND (life_days <= 3650))),
  constraint item_life_h_check CHECK (((life_h >= 1) AND (life_h <= 8760))),
  constraint item_life_whole CHECK ((((life_days IS NULL) AND (life_h IS NULL)) OR (life_anchor IS NOT NULL))),
  constraint item_mass_by_unit CHECK ((((unit <> 'mg'::text) OR (net_weight_mg = 1)) AND ((unit <> 'g'::text) OR (net_weight_mg = 1000)))),
  constraint item_net_weight_mg_check CHECK ((net_weight_mg > 0)),
  constraint item_opened_life_h_check CHECK (((opened_life_h >= 1) AND (opened_life_h <= 8760))),
  constraint item_portions_per_unit_check CHECK (((portions_per_unit >= 1) AND (portions_per_unit <= 10000))),
  constraint item_regenerated_life_h_check CHECK (((regenerated_life_h >= 1) AND (regenerated_life_h <= 8760))),
  constraint item_storage_check CHECK ((storage = ANY (ARRAY['chilled'::text, 'frozen'::text, 'ambient'::text]))),
  constraint item_texture_level_check CHECK (((texture_level >= 0) AND (texture_level <= 7))),
  constraint item_thawed_life_h_check CHECK (((thawed_life_h >= 1) AND (thawed_life_h <= 8760))),
  constraint item_unit_check CHECK ((unit = ANY (ARRAY['mg'::text, 'g'::text, 'ml'::text, 'piece'::text])))
);
alter table item enable row level security;
alter table item force row level security;
create policy own_group on item as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on item to sealtrail_app;
grant update (name, gtin, allergens, may_contain, storage_instruction, life_days, life_h, life_anchor, life_day_one, opened_life_h, active, version, storage, texture_level, diet_codes, portions_per_unit, opened_item_id, frozen_life_days, thawed_life_h, regenerated_life_h, entry_units, category, ingredients) on item to sealtrail_app;

create table item_model_validation (
  group_id uuid not null,
  validation_id uuid not null,
  item_id uuid not null,
  version integer not null,
  model jsonb,
  reference_centi_c smallint,
  reference_life_h numeric(8,2),
  validated_by text not null,
  basis text not null,
  document text,
  recorded_at timestamp with time zone not null,
  recorded_by uuid not null,
  constraint item_model_validation_pkey PRIMARY KEY (group_id, validation_id),
  constraint item_model_validation_version_key UNIQUE (item_id, version, group_id),
  constraint item_model_validation_item_fkey FOREIGN KEY (group_id, item_id) REFERENCES item(group_id, item_id),
  constraint item_model_validation_basis_check CHECK ((basis = ANY (ARRAY['challenge-test'::text, 'shelf-life-study'::text, 'published'::text, 'from-memory'::text]))),
  constraint item_model_validation_version_check CHECK ((version > 0)),
  constraint item_model_validation_whole CHECK ((num_nulls(model, reference_centi_c, reference_life_h) = ANY (ARRAY[0, 3])))
);
alter table item_model_validation enable row level security;
alter table item_model_validation force row level security;
create policy own_group on item_model_validation as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on item_model_validation to sealtrail_app;

create table label_print (
  group_id uuid not null,
  print_id uuid not null,
  site_id uuid not null,
  about_kind text not null,
  about_id uuid not null,
  reason text not null,
  note text,
  layout text not null,
  copies integer not null,
  labels integer not null,
  sister_serial text,
  second_person_id uuid,
  content jsonb not null,
  printed_at timestamp with time zone not null,
  printed_by uuid not null,
  print_no bigint generated always as identity not null,
  constraint label_print_pkey PRIMARY KEY (group_id, print_id),
  constraint label_print_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id),
  constraint label_print_site_fkey FOREIGN KEY (group_id, site_id) REFERENCES site(group_id, site_id),
  constraint label_print_about_kind_check CHECK ((about_kind = ANY (ARRAY['lot'::text, 'packing-run'::text, 'relabel'::text, 'crate'::text, 'dispatch'::text]))),
  constraint label_print_copies_check CHECK (((copies >= 1) AND (copies <= 500))),
  constraint label_print_labels_check CHECK (((labels >= 1) AND (labels <= 500))),
  constraint label_print_second_is_another CHECK ((second_person_id <> printed_by)),
  constraint label_print_sister_needs_second CHECK (((sister_serial IS NULL) OR (second_person_id IS NOT NULL)))
);
alter table label_print enable row level security;
alter table label_print force row level security;
CREATE INDEX label_print_about_idx ON public.label_print USING btree (about_id, group_id);
CREATE INDEX label_print_site_idx ON public.label_print USING btree (site_id, print_no, group_id);
create policy own_group on label_print as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on label_print to sealtrail_app;

create table label_print_crate (
  group_id uuid not null,
  print_id uuid not null,
  crate_code text not null,
  labels integer not null,
  constraint label_print_crate_pkey PRIMARY KEY (group_id, print_id, crate_code),
  constraint label_print_crate_print_fkey FOREIGN KEY (group_id, print_id) REFERENCES label_print(group_id, print_id),
  constraint label_print_crate_labels_check CHECK ((labels > 0))
);
alter table label_print_crate enable row level security;
alter table label_print_crate force row level security;
CREATE INDEX label_print_crate_code_idx ON public.label_print_crate USING btree (crate_code, group_id);
create policy own_group on label_print_crate as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on label_print_crate to sealtrail_app;

create table label_print_pack (
  group_id uuid not null,
  print_id uuid not null,
  lot_id uuid not null,
  serial text not null,
  labels integer not null,
  use_by_at timestamp with time zone,
  print_no bigint not null,
  constraint label_print_pack_pkey PRIMARY KEY (group_id, print_id, lot_id, serial),
  constraint label_print_pack_lot_fkey FOREIGN KEY (group_id, lot_id) REFERENCES lot(group_id, lot_id),
  constraint label_print_pack_print_fkey FOREIGN KEY (group_id, print_id) REFERENCES label_print(group_id, print_id),
  constraint label_print_pack_labels_check CHECK ((labels > 0))
);
alter table label_print_pack enable row level security;
alter table label_print_pack force row level security;
CREATE INDEX label_print_pack_lot_idx ON public.label_print_pack USING btree (lot_id, serial, print_no, group_id);
create policy own_group on label_print_pack as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on label_print_pack to sealtrail_app;

create table lot (
  group_id uuid not null,
  lot_id uuid not null,
  code text not null,
  item_id uuid not null,
  unit text not null,
  quantity bigint not null,
  mass_mg bigint not null,
  origin text not null,
  site_id uuid not null,
  serialised boolean default false not null,
  born_at timestamp with time zone not null,
  handling text not null,
  storage_instruction text not null,
  printed_use_by_at timestamp with time zone,
  printed_use_by_date date,
  use_by_basis jsonb not null,
  anchors jsonb default '{}'::jsonb not null,
  allergens text[] not null,
  may_contain text[] not null,
  supplier_id uuid,
  supplier_lot_code text,
  goods_receipt_id uuid,
  batch_id uuid,
  load_no integer,
  packing_run_id uuid,
  best_before_date date,
  shop_name text,
  supplier_lot_key text generated always as (supplier_lot_key(supplier_lot_code)) stored,
  constraint lot_pkey PRIMARY KEY (group_id, lot_id),
  constraint lot_code_key UNIQUE (code, group_id),
  constraint lot_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id),
  constraint lot_item_fkey FOREIGN KEY (group_id, item_id) REFERENCES item(group_id, item_id),
  constraint lot_site_fkey FOREIGN KEY (group_id, site_id) REFERENCES site(group_id, site_id),
  constraint lot_supplier_fkey FOREIGN KEY (group_id, supplier_id) REFERENCES supplier(group_id, supplier_id),
  constraint lot_mass_mg_check CHECK ((mass_mg > 0)),
  constraint lot_origin_check CHECK ((origin = ANY (ARRAY['supplied'::text, 'produced'::text, 'packed'::text, 'pseudo'::text, 'converted'::text, 'opening'::text]))),
  constraint lot_quantity_check CHECK ((quantity > 0))
);
alter table lot enable row level security;
alter table lot force row level security;
CREATE INDEX lot_batch_idx ON public.lot USING btree (group_id, batch_id) WHERE (batch_id IS NOT NULL);
CREATE INDEX lot_item_idx ON public.lot USING btree (item_id, group_id, lot_id);
CREATE INDEX lot_of_item_idx ON public.lot USING btree (lot_id, group_id) INCLUDE (item_id);
CREATE INDEX lot_run_idx ON public.lot USING btree (group_id, packing_run_id) WHERE (packing_run_id IS NOT NULL);
CREATE INDEX lot_supplier_idx ON public.lot USING btree (group_id, supplier_lot_code, supplier_id) WHERE (supplier_lot_code IS NOT NULL);
CREATE INDEX lot_supplier_key_idx ON public.lot USING btree (supplier_lot_key, group_id) WHERE (supplier_lot_key IS NOT NULL);
create policy own_group on lot as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on lot to sealtrail_app;

create table lot_change (
  group_id uuid not null,
  lot_id uuid not null,
  change_id uuid not null,
  kind text not null,
  detail jsonb not null,
  cause_lot_id uuid,
  actor_id uuid not null,
  recorded_at timestamp with time zone not null,
  constraint lot_change_pkey PRIMARY KEY (group_id, lot_id, change_id),
  constraint lot_change_lot_fkey FOREIGN KEY (group_id, lot_id) REFERENCES lot(group_id, lot_id),
  constraint lot_change_kind_check CHECK ((kind = ANY (ARRAY['use-by-earlier'::text, 'allergens-added'::text])))
);
alter table lot_change enable row level security;
alter table lot_change force row level security;
create policy own_group on lot_change as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on lot_change to sealtrail_app;

create table lot_cost (
  group_id uuid not null,
  lot_id uuid not null,
  at_seq bigint not null,
  at_money_no bigint not null,
  unit_fine numeric(60,0) not null,
  bought_ug_per_unit numeric(40,0) not null,
  unpriced_ppm integer not null,
  uncosted_reason text,
  constraint lot_cost_pkey PRIMARY KEY (group_id, lot_id, at_seq, at_money_no),
  constraint lot_cost_checkpoint_fkey FOREIGN KEY (group_id, at_seq, at_money_no) REFERENCES cost_checkpoint(group_id, seq, money_no),
  constraint lot_cost_lot_fkey FOREIGN KEY (group_id, lot_id) REFERENCES lot(group_id, lot_id),
  constraint lot_cost_bought_ug_per_unit_check CHECK ((bought_ug_per_unit >= (0)::numeric)),
  constraint lot_cost_uncosted_reason_check CHECK ((uncosted_reason = ANY (ARRAY['no-price'::text, 'price-zero'::text, 'uncosted-input'::text, 'nothing-went-in'::text, 'made-from-itself'::text]))),
  constraint lot_cost_unit_fine_check CHECK ((unit_fine >= (0)::numeric)),
  constraint lot_cost_unpriced_ppm_check CHECK (((unpriced_ppm >= 0) AND (unpriced_ppm <= 1000000)))
);
alter table lot_cost enable row level security;
alter table lot_cost force row level security;
create policy own_group on lot_cost as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on lot_cost to sealtrail_app;

create table lot_edge (
  group_id uuid not null,
  parent_lot_id uuid not null,
  child_lot_id uuid not null,
  process_id uuid not null,
  caps_use_by boolean not null,
  recorded_at timestamp with time zone not null,
  fact_id uuid,
  child_leads_on boolean default true not null,
  constraint lot_edge_pkey PRIMARY KEY (group_id, parent_lot_id, child_lot_id, process_id),
  constraint lot_edge_child_fkey FOREIGN KEY (group_id, child_lot_id) REFERENCES lot(group_id, lot_id),
  constraint lot_edge_parent_fkey FOREIGN KEY (group_id, parent_lot_id) REFERENCES lot(group_id, lot_id),
  constraint lot_edge_not_itself CHECK ((parent_lot_id <> child_lot_id))
);
alter table lot_edge enable row level security;
alter table lot_edge force row level security;
CREATE INDEX lot_edge_child_idx ON public.lot_edge USING btree (group_id, child_lot_id, parent_lot_id) INCLUDE (process_id);
CREATE INDEX lot_edge_walk_idx ON public.lot_edge USING btree (parent_lot_id, group_id, child_lot_id) INCLUDE (child_leads_on);
create policy own_group on lot_edge as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant delete, insert, select on lot_edge to sealtrail_app;
grant update (child_leads_on) on lot_edge to sealtrail_app;

create table lot_edge_past (
  group_id uuid not null,
  past_id bigint generated always as identity not null,
  parent_lot_id uuid not null,
  child_lot_id uuid not null,
  process_id uuid not null,
  recorded_at timestamp with time zone not null,
  removed_at timestamp with time zone not null,
  constraint lot_edge_past_pkey PRIMARY KEY (group_id, past_id),
  constraint lot_edge_past_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id)
);
alter table lot_edge_past enable row level security;
alter table lot_edge_past force row level security;
CREATE INDEX lot_edge_past_child_idx ON public.lot_edge_past USING btree (child_lot_id, group_id);
CREATE INDEX lot_edge_past_parent_idx ON public.lot_edge_past USING btree (parent_lot_id, group_id);
create policy own_group on lot_edge_past as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on lot_edge_past to sealtrail_app;

create table lot_exposure_dirty (
  group_id uuid not null,
  lot_id uuid not null,
  marked_at timestamp with time zone default clock_timestamp() not null,
  constraint lot_exposure_dirty_pkey PRIMARY KEY (group_id, lot_id),
  constraint lot_exposure_dirty_lot_fkey FOREIGN KEY (group_id, lot_id) REFERENCES lot(group_id, lot_id)
);
alter table lot_exposure_dirty enable row level security;
alter table lot_exposure_dirty force row level security;
create policy own_group on lot_exposure_dirty as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant delete, insert, select on lot_exposure_dirty to sealtrail_app;
grant update (lot_id) on lot_exposure_dirty to sealtrail_app;

create table lot_in_use (
  group_id uuid not null,
  use_id uuid not null,
  place_id uuid not null,
  site_id uuid not null,
  item_id uuid not null,
  lot_id uuid not null,
  from_at timestamp with time zone not null,
  recorded_at timestamp with time zone not null,
  recorded_by uuid not null,
  constraint lot_in_use_pkey PRIMARY KEY (group_id, use_id),
  constraint lot_in_use_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id),
  constraint lot_in_use_lot_fkey FOREIGN KEY (group_id, lot_id) REFERENCES lot(group_id, lot_id),
  constraint lot_in_use_place_fkey FOREIGN KEY (group_id, place_id) REFERENCES place(group_id, place_id)
);
alter table lot_in_use enable row level security;
alter table lot_in_use force row level security;
CREATE INDEX lot_in_use_place_idx ON public.lot_in_use USING btree (place_id, item_id, group_id, from_at);
create policy own_group on lot_in_use as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on lot_in_use to sealtrail_app;

create table lot_state (
  group_id uuid not null,
  lot_id uuid not null,
  use_by_at timestamp with time zone default 'infinity'::timestamp with time zone not null,
  use_by_date date,
  allergens text[] not null,
  may_contain text[] not null,
  thaw_start_at timestamp with time zone,
  handling text,
  given_back boolean default false not null,
  constraint lot_state_pkey PRIMARY KEY (group_id, lot_id),
  constraint lot_state_lot_fkey FOREIGN KEY (group_id, lot_id) REFERENCES lot(group_id, lot_id),
  constraint lot_state_handling_check CHECK ((handling = 'raw'::text))
);
alter table lot_state enable row level security;
alter table lot_state force row level security;
CREATE INDEX lot_state_given_back_idx ON public.lot_state USING btree (lot_id, group_id) WHERE given_back;
create policy own_group on lot_state as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select, update on lot_state to sealtrail_app;

create table money_fact (
  group_id uuid not null,
  money_no bigint not null,
  kind text not null,
  subject_id uuid not null,
  fact_id uuid not null,
  actor_id uuid not null,
  recorded_at timestamp with time zone not null,
  constraint money_fact_pkey PRIMARY KEY (group_id, money_no),
  constraint money_fact_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id),
  constraint money_fact_kind_check CHECK ((kind = ANY (ARRAY['price'::text, 'cost-rate'::text, 'batch-completion'::text, 'month-close'::text, 'month-reopening'::text])))
);
alter table money_fact enable row level security;
alter table money_fact force row level security;
CREATE INDEX money_fact_subject_idx ON public.money_fact USING btree (subject_id, group_id);
create policy own_group on money_fact as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on money_fact to sealtrail_app;

create table month_close (
  group_id uuid not null,
  close_id uuid not null,
  month date not null,
  version integer not null,
  cut_seq bigint not null,
  cut_money_no bigint not null,
  cut_recorded_at timestamp with time zone not null,
  money_no bigint not null,
  state text default 'making'::text not null,
  closed_by uuid not null,
  closed_at timestamp with time zone not null,
  note text,
  checks jsonb not null,
  accepted jsonb not null,
  previous_close_id uuid,
  report_hash bytea,
  signature_hash bytea,
  steps_done text[] default '{}'::text[] not null,
  failure text,
  constraint month_close_pkey PRIMARY KEY (group_id, close_id),
  constraint month_close_chain_key UNIQUE NULLS NOT DISTINCT (group_id, previous_close_id),
  constraint month_close_version_key UNIQUE (group_id, month, version),
  constraint month_close_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id),
  constraint month_close_money_fkey FOREIGN KEY (group_id, money_no) REFERENCES money_fact(group_id, money_no),
  constraint month_close_previous_fkey FOREIGN KEY (group_id, previous_close_id) REFERENCES month_close(group_id, close_id),
  constraint month_close_month_check CHECK ((EXTRACT(day FROM month) = (1)::numeric)),
  constraint month_close_own_number CHECK ((cut_money_no = money_no)),
  constraint month_close_report_hash_check CHECK ((octet_length(report_hash) = 32)),
  constraint month_close_signature_hash_check CHECK ((octet_length(signature_hash) = 32)),
  constraint month_close_signed CHECK (((state <> 'ready'::text) OR (signature_hash IS NOT NULL))),
  constraint month_close_state_check CHECK ((state = ANY (ARRAY['making'::text, 'ready'::text, 'failed'::text]))),
  constraint month_close_version_check CHECK ((version > 0))
);
alter table month_close enable row level security;
alter table month_close force row level security;
create policy own_group on month_close as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on month_close to sealtrail_app;
grant update (state, report_hash, signature_hash, steps_done, failure) on month_close to sealtrail_app;

create table month_close_file (
  group_id uuid not null,
  close_id uuid not null,
  kind text not null,
  content_type text not null,
  bytes bigint not null,
  sha256 bytea not null,
  made_at timestamp with time zone not null,
  constraint month_close_file_pkey PRIMARY KEY (group_id, close_id, kind),
  constraint month_close_file_close_fkey FOREIGN KEY (group_id, close_id) REFERENCES month_close(group_id, close_id),
  constraint month_close_file_bytes_check CHECK ((bytes > 0)),
  constraint month_close_file_kind_check CHECK ((kind = ANY (ARRAY['json'::text, 'csv'::text, 'xlsx'::text, 'html'::text, 'pdf'::text]))),
  constraint month_close_file_sha256_check CHECK ((octet_length(sha256) = 32))
);
alter table month_close_file enable row level security;
alter table month_close_file force row level security;
create policy own_group on month_close_file as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on month_close_file to sealtrail_app;

create table month_close_piece (
  group_id uuid not null,
  close_id uuid not null,
  kind text not null,
  piece_no integer not null,
  body bytea not null,
  constraint month_close_piece_pkey PRIMARY KEY (group_id, close_id, kind, piece_no),
  constraint month_close_piece_close_fkey FOREIGN KEY (group_id, close_id) REFERENCES month_close(group_id, close_id)
);
alter table month_close_piece enable row level security;
alter table month_close_piece force row level security;
create policy own_group on month_close_piece as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
create policy unfinished_delete on month_close_piece as restrictive for delete to public using ((NOT (EXISTS ( SELECT
   FROM month_close_file f
  WHERE ((f.group_id = month_close_piece.group_id) AND (f.close_id = month_close_piece.close_id) AND (f.kind = month_close_piece.kind))))));
create policy unfinished_insert on month_close_piece as restrictive for insert to public with check ((NOT (EXISTS ( SELECT
   FROM month_close_file f
  WHERE ((f.group_id = month_close_piece.group_id) AND (f.close_id = month_close_piece.close_id) AND (f.kind = month_close_piece.kind))))));
grant delete, insert, select on month_close_piece to sealtrail_app;

create table month_flow (
  group_id uuid not null,
  to_seq bigint not null,
  row_no integer not null,
  way_no integer not null,
  month date not null,
  lot_id uuid not null,
  quantity bigint not null,
  constraint month_flow_pkey PRIMARY KEY (group_id, to_seq, row_no),
  constraint month_flow_lot_fkey FOREIGN KEY (group_id, lot_id) REFERENCES lot(group_id, lot_id),
  constraint month_flow_stretch_fkey FOREIGN KEY (group_id, to_seq) REFERENCES flow_stretch(group_id, to_seq),
  constraint month_flow_way_fkey FOREIGN KEY (group_id, way_no) REFERENCES flow_way(group_id, way_no)
);
alter table month_flow enable row level security;
alter table month_flow force row level security;
create policy own_group on month_flow as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on month_flow to sealtrail_app;

create table month_reopening (
  group_id uuid not null,
  reopening_id uuid not null,
  close_id uuid not null,
  reason text not null,
  asked_by uuid not null,
  asked_at timestamp with time zone not null,
  confirmed_by uuid,
  confirmed_at timestamp with time zone,
  money_no bigint,
  constraint month_reopening_pkey PRIMARY KEY (group_id, reopening_id),
  constraint month_reopening_close_fkey FOREIGN KEY (group_id, close_id) REFERENCES month_close(group_id, close_id),
  constraint month_reopening_money_fkey FOREIGN KEY (group_id, money_no) REFERENCES money_fact(group_id, money_no),
  constraint month_reopening_two_people CHECK (((confirmed_by IS NULL) OR (confirmed_by <> asked_by))),
  constraint month_reopening_whole CHECK ((((confirmed_by IS NULL) = (confirmed_at IS NULL)) AND ((confirmed_by IS NULL) = (money_no IS NULL))))
);
alter table month_reopening enable row level security;
alter table month_reopening force row level security;
CREATE UNIQUE INDEX month_reopening_once_key ON public.month_reopening USING btree (close_id, group_id) WHERE (confirmed_by IS NOT NULL);
create policy own_group on month_reopening as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on month_reopening to sealtrail_app;
grant update (confirmed_by, confirmed_at, money_no) on month_reopening to sealtrail_app;

create table outbox (
  group_id uuid not null,
  outbox_id bigint generated always as identity not null,
  topic text not null,
  payload jsonb not null,
  created_at timestamp with time zone not null,
  numbered_at timestamp with time zone,
  constraint outbox_pkey PRIMARY KEY (group_id, outbox_id),
  constraint outbox_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id)
);
alter table outbox enable row level security;
alter table outbox force row level security;
CREATE INDEX outbox_unnumbered_idx ON public.outbox USING btree (outbox_id, group_id) WHERE (numbered_at IS NULL);
create policy own_group on outbox as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant delete, insert, select on outbox to sealtrail_app;
grant update (numbered_at) on outbox to sealtrail_app;

create table pack_fault (
  group_id uuid not null,
  fault_id uuid not null,
  site_id uuid not null,
  kind text not null,
  lot_id uuid not null,
  serial text,
  packs integer not null,
  reason text,
  note text,
  packing_run_id uuid not null,
  occurred_at timestamp with time zone not null,
  occurred_on date not null,
  recorded_at timestamp with time zone not null,
  recorded_by uuid not null,
  constraint pack_fault_pkey PRIMARY KEY (group_id, fault_id),
  constraint pack_fault_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id),
  constraint pack_fault_lot_fkey FOREIGN KEY (group_id, lot_id) REFERENCES lot(group_id, lot_id),
  constraint pack_fault_run_fkey FOREIGN KEY (group_id, packing_run_id) REFERENCES packing_run(group_id, packing_run_id),
  constraint pack_fault_site_fkey FOREIGN KEY (group_id, site_id) REFERENCES site(group_id, site_id),
  constraint pack_fault_kind_check CHECK ((kind = ANY (ARRAY['leaker'::text, 're-bagged'::text, 'complaint'::text]))),
  constraint pack_fault_packs_check CHECK ((packs > 0)),
  constraint pack_fault_serial_is_one CHECK (((serial IS NULL) OR (packs = 1)))
);
alter table pack_fault enable row level security;
alter table pack_fault force row level security;
CREATE INDEX pack_fault_lot ON public.pack_fault USING btree (lot_id, group_id);
CREATE INDEX pack_fault_run ON public.pack_fault USING btree (packing_run_id, group_id);
CREATE INDEX pack_fault_site ON public.pack_fault USING btree (site_id, occurred_at, fault_id, group_id);
create policy own_group on pack_fault as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on pack_fault to sealtrail_app;

create table pack_fault_withdrawal (
  group_id uuid not null,
  withdrawal_id uuid not null,
  fault_id uuid not null,
  reason text not null,
  recorded_at timestamp with time zone not null,
  recorded_by uuid not null,
  constraint pack_fault_withdrawal_pkey PRIMARY KEY (group_id, withdrawal_id),
  constraint pack_fault_withdrawal_fault_key UNIQUE (group_id, fault_id),
  constraint pack_fault_withdrawal_fault_fkey FOREIGN KEY (group_id, fault_id) REFERENCES pack_fault(group_id, fault_id),
  constraint pack_fault_withdrawal_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id)
);
alter table pack_fault_withdrawal enable row level security;
alter table pack_fault_withdrawal force row level security;
create policy own_group on pack_fault_withdrawal as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on pack_fault_withdrawal to sealtrail_app;

create table packing_fill (
  group_id uuid not null,
  packing_run_id uuid not null,
  line_no integer not null,
  from_lot_id uuid not null,
  used_quantity bigint not null,
  pack_lot_id uuid not null,
  packs bigint not null,
  changed_over_at timestamp with time zone not null,
  constraint packing_fill_pkey PRIMARY KEY (group_id, packing_run_id, line_no),
  constraint packing_fill_from_fkey FOREIGN KEY (group_id, from_lot_id) REFERENCES lot(group_id, lot_id),
  constraint packing_fill_pack_fkey FOREIGN KEY (group_id, pack_lot_id) REFERENCES lot(group_id, lot_id),
  constraint packing_fill_run_fkey FOREIGN KEY (group_id, packing_run_id) REFERENCES packing_run(group_id, packing_run_id),
  constraint packing_fill_packs_check CHECK ((packs > 0)),
  constraint packing_fill_used_quantity_check CHECK ((used_quantity >= 0))
);
alter table packing_fill enable row level security;
alter table packing_fill force row level security;
CREATE INDEX packing_fill_pack_idx ON public.packing_fill USING btree (pack_lot_id, group_id);
create policy own_group on packing_fill as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on packing_fill to sealtrail_app;

create table packing_programme (
  group_id uuid not null,
  programme_id uuid not null,
  code text not null,
  name text not null,
  food_type text not null,
  vacuum_mbar integer not null,
  pulses integer not null,
  early_stop boolean not null,
  tilted_insert boolean not null,
  gentle_air_return boolean not null,
  double_seam boolean not null,
  seal_temperature_c double precision,
  seal_s double precision not null,
  most_core_temperature_c double precision not null,
  reasons text[] not null,
  basis text not null,
  active boolean default true not null,
  version integer default 1 not null,
  constraint packing_programme_pkey PRIMARY KEY (group_id, programme_id),
  constraint packing_programme_code_key UNIQUE (group_id, code),
  constraint packing_programme_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id),
  constraint packing_programme_basis_check CHECK ((basis = ANY (ARRAY['published'::text, 'second-hand'::text, 'common-practice'::text, 'from-memory'::text]))),
  constraint packing_programme_pulses_check CHECK (((pulses >= 1) AND (pulses <= 10))),
  constraint packing_programme_seal_s_check CHECK ((seal_s > (0)::double precision)),
  constraint packing_programme_vacuum_mbar_check CHECK (((vacuum_mbar >= 1) AND (vacuum_mbar <= 1000))),
  constraint packing_programme_version_check CHECK ((version > 0))
);
alter table packing_programme enable row level security;
alter table packing_programme force row level security;
create policy own_group on packing_programme as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on packing_programme to sealtrail_app;
grant update (name, food_type, vacuum_mbar, pulses, early_stop, tilted_insert, gentle_air_return, double_seam, seal_temperature_c, seal_s, most_core_temperature_c, reasons, basis, active, version) on packing_programme to sealtrail_app;

create table packing_programme_version (
  group_id uuid not null,
  programme_id uuid not null,
  version integer not null,
  content jsonb not null,
  recorded_at timestamp with time zone not null,
  recorded_by uuid not null,
  constraint packing_programme_version_pkey PRIMARY KEY (group_id, programme_id, version),
  constraint packing_programme_version_fkey FOREIGN KEY (group_id, programme_id) REFERENCES packing_programme(group_id, programme_id),
  constraint packing_programme_version_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id)
);
alter table packing_programme_version enable row level security;
alter table packing_programme_version force row level security;
create policy own_group on packing_programme_version as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on packing_programme_version to sealtrail_app;

create table packing_reject (
  group_id uuid not null,
  packing_run_id uuid not null,
  reason text not null,
  packs integer not null,
  constraint packing_reject_pkey PRIMARY KEY (group_id, packing_run_id, reason),
  constraint packing_reject_run_fkey FOREIGN KEY (group_id, packing_run_id) REFERENCES packing_run(group_id, packing_run_id),
  constraint packing_reject_packs_check CHECK ((packs > 0)),
  constraint packing_reject_reason_check CHECK ((reason = ANY (ARRAY['leak'::text, 'dirty-seal-area'::text, 'crease'::text, 'pierced'::text, 'other'::text])))
);
alter table packing_reject enable row level security;
alter table packing_reject force row level security;
create policy own_group on packing_reject as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on packing_reject to sealtrail_app;

create table packing_run (
  group_id uuid not null,
  packing_run_id uuid not null,
  batch_id uuid not null,
  site_id uuid not null,
  equipment_id uuid not null,
  programme text not null,
  packer_id uuid not null,
  packer_name text not null,
  started_at timestamp with time zone not null,
  finished_at timestamp with time zone not null,
  packs_rejected integer default 0 not null,
  programme_id uuid,
  programme_version integer,
  constraint packing_run_pkey PRIMARY KEY (group_id, packing_run_id),
  constraint packing_run_batch_fkey FOREIGN KEY (group_id, batch_id) REFERENCES batch(group_id, batch_id),
  constraint packing_run_equipment_fkey FOREIGN KEY (group_id, equipment_id) REFERENCES equipment(group_id, equipment_id),
  constraint packing_run_programme_fkey FOREIGN KEY (group_id, programme_id, programme_version) REFERENCES packing_programme_version(group_id, programme_id, version),
  constraint packing_run_packs_rejected_check CHECK ((packs_rejected >= 0)),
  constraint packing_run_programme_whole CHECK (((programme_id IS NULL) = (programme_version IS NULL)))
);
alter table packing_run enable row level security;
alter table packing_run force row level security;
CREATE INDEX packing_run_batch_idx ON public.packing_run USING btree (batch_id, group_id);
CREATE INDEX packing_run_machine_idx ON public.packing_run USING btree (equipment_id, group_id, finished_at, packing_run_id);
CREATE INDEX packing_run_site_idx ON public.packing_run USING btree (site_id, finished_at, packing_run_id, group_id);
create policy own_group on packing_run as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on packing_run to sealtrail_app;

create table person (
  group_id uuid not null,
  person_id uuid not null,
  name text not null,
  sign_in_name text not null,
  active boolean default true not null,
  version integer default 1 not null,
  constraint person_pkey PRIMARY KEY (group_id, person_id),
  constraint person_sign_in_name_code_key UNIQUE (group_id, sign_in_name),
  constraint person_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id)
);
alter table person enable row level security;
alter table person force row level security;
create policy own_group on person as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on person to sealtrail_app;
grant update (name, active, version) on person to sealtrail_app;

create table person_badge (
  group_id uuid not null,
  person_id uuid not null,
  badge_hash bytea not null,
  needs_pin boolean default false not null,
  constraint person_badge_pkey PRIMARY KEY (group_id, person_id),
  constraint person_badge_code_key UNIQUE (group_id, badge_hash),
  constraint person_badge_person_fkey FOREIGN KEY (group_id, person_id) REFERENCES person(group_id, person_id),
  constraint person_badge_badge_hash_check CHECK ((octet_length(badge_hash) = 32))
);
alter table person_badge enable row level security;
alter table person_badge force row level security;
create policy own_group on person_badge as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant delete, insert, select, update on person_badge to sealtrail_app;

create table person_credential (
  group_id uuid not null,
  person_id uuid not null,
  password_hash text not null,
  failed_count integer default 0 not null,
  locked_until timestamp with time zone,
  constraint person_credential_pkey PRIMARY KEY (group_id, person_id),
  constraint person_credential_person_fkey FOREIGN KEY (group_id, person_id) REFERENCES person(group_id, person_id)
);
alter table person_credential enable row level security;
alter table person_credential force row level security;
create policy own_group on person_credential as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select, update on person_credential to sealtrail_app;

create table person_grant (
  group_id uuid not null,
  person_id uuid not null,
  grant_no integer not null,
  role text not null,
  site_id uuid,
  constraint person_grant_pkey PRIMARY KEY (group_id, person_id, grant_no),
  constraint person_grant_person_fkey FOREIGN KEY (group_id, person_id) REFERENCES person(group_id, person_id)
);
alter table person_grant enable row level security;
alter table person_grant force row level security;
create policy own_group on person_grant as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant delete, insert, select on person_grant to sealtrail_app;

create table person_pin (
  group_id uuid not null,
  person_id uuid not null,
  pin_hash text not null,
  failed_count integer default 0 not null,
  locked_until timestamp with time zone,
  constraint person_pin_pkey PRIMARY KEY (group_id, person_id),
  constraint person_pin_person_fkey FOREIGN KEY (group_id, person_id) REFERENCES person(group_id, person_id)
);
alter table person_pin enable row level security;
alter table person_pin force row level security;
create policy own_group on person_pin as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select, update on person_pin to sealtrail_app;

create table place (
  group_id uuid not null,
  place_id uuid not null,
  site_id uuid not null,
  code text not null,
  name text not null,
  kind text not null,
  quarantine boolean default false not null,
  version integer default 1 not null,
  used_by_count boolean default false not null,
  is_bin boolean default false not null,
  constraint place_pkey PRIMARY KEY (group_id, place_id),
  constraint place_code_key UNIQUE (group_id, site_id, code),
  constraint place_site_fkey FOREIGN KEY (group_id, site_id) REFERENCES site(group_id, site_id) DEFERRABLE INITIALLY DEFERRED,
  constraint place_kind_check CHECK ((kind = ANY (ARRAY['chiller'::text, 'freezer'::text, 'ambient-store'::text, 'prep-area'::text, 'vehicle'::text])))
);
alter table place enable row level security;
alter table place force row level security;
create policy own_group on place as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on place to sealtrail_app;
grant update (name, kind, version, used_by_count, is_bin) on place to sealtrail_app;

create table place_day (
  group_id uuid not null,
  subject text not null,
  day date not null,
  hist_centi_c smallint[] not null,
  hist_ms integer[] not null,
  unseen_centi_c smallint[] not null,
  unseen_ms integer[] not null,
  threshold_centi_c smallint[] not null,
  run_ms integer[] not null,
  segments bytea not null,
  air bytea,
  last_ms integer not null,
  seen_centi_c smallint not null,
  seen_ms integer not null,
  edge_first text not null,
  edge_last text not null,
  monitoring_version integer not null,
  rule_version integer not null,
  computed_at timestamp with time zone not null,
  constraint place_day_pkey PRIMARY KEY (group_id, subject, day),
  constraint place_day_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id)
);
alter table place_day enable row level security;
alter table place_day force row level security;
CREATE INDEX place_day_rule_idx ON public.place_day USING btree (rule_version, group_id);
create policy own_group on place_day as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant delete, insert, select, update on place_day to sealtrail_app;

create table place_day_dirty (
  group_id uuid not null,
  subject text not null,
  day date not null,
  marked_at timestamp with time zone default clock_timestamp() not null,
  constraint place_day_dirty_pkey PRIMARY KEY (group_id, subject, day),
  constraint place_day_dirty_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id)
);
alter table place_day_dirty enable row level security;
alter table place_day_dirty force row level security;
create policy own_group on place_day_dirty as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant delete, insert, select on place_day_dirty to sealtrail_app;
grant update (day) on place_day_dirty to sealtrail_app;

create table place_monitoring (
  group_id uuid not null,
  place_id uuid not null,
  version integer not null,
  from_day date not null,
  how text not null,
  upper_centi_c smallint not null,
  lower_centi_c smallint,
  assumed_centi_c smallint,
  between_readings text not null,
  gap_min integer not null,
  delay_min integer not null,
  lag_min integer default 0 not null,
  lag_validated_by text,
  note text,
  recorded_at timestamp with time zone not null,
  recorded_by uuid not null,
  constraint place_monitoring_pkey PRIMARY KEY (group_id, place_id, version),
  constraint place_monitoring_place_fkey FOREIGN KEY (group_id, place_id) REFERENCES place(group_id, place_id),
  constraint place_monitoring_between_readings_check CHECK ((between_readings = ANY (ARRAY['step'::text, 'line'::text, 'warmer-end'::text]))),
  constraint place_monitoring_delay_min_check CHECK (((delay_min >= 0) AND (delay_min <= 1440))),
  constraint place_monitoring_gap_min_check CHECK (((gap_min >= 1) AND (gap_min <= 1380))),
  constraint place_monitoring_how_check CHECK ((how = ANY (ARRAY['sensor'::text, 'by-hand'::text, 'none'::text]))),
  constraint place_monitoring_lag_min_check CHECK (((lag_min >= 0) AND (lag_min <= 600))),
  constraint place_monitoring_lag_validated CHECK (((lag_min = 0) OR (lag_validated_by IS NOT NULL))),
  constraint place_monitoring_limits CHECK (((lower_centi_c IS NULL) OR (lower_centi_c < upper_centi_c))),
  constraint place_monitoring_reach CHECK (((gap_min + (2 * lag_min)) <= 1380)),
  constraint place_monitoring_version_check CHECK ((version > 0))
);
alter table place_monitoring enable row level security;
alter table place_monitoring force row level security;
create policy own_group on place_monitoring as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on place_monitoring to sealtrail_app;

create table posting (
  group_id uuid not null,
  seq bigint not null,
  line_no integer not null,
  lot_id uuid not null,
  from_account_id uuid not null,
  to_account_id uuid not null,
  quantity bigint not null,
  basis text not null,
  reason text,
  destination text,
  occurred_at timestamp with time zone not null,
  occurred_on date not null,
  material text,
  constraint posting_pkey PRIMARY KEY (group_id, seq, line_no),
  constraint posting_entry_fkey FOREIGN KEY (group_id, seq) REFERENCES entry(group_id, seq),
  constraint posting_from_fkey FOREIGN KEY (group_id, from_account_id) REFERENCES account(group_id, account_id),
  constraint posting_lot_fkey FOREIGN KEY (group_id, lot_id) REFERENCES lot(group_id, lot_id),
  constraint posting_to_fkey FOREIGN KEY (group_id, to_account_id) REFERENCES account(group_id, account_id),
  constraint posting_basis_check CHECK ((basis = ANY (ARRAY['weighed'::text, 'counted'::text, 'from-recipe'::text, 'estimated'::text, 'derived'::text]))),
  constraint posting_material_check CHECK ((material = ANY (ARRAY['food'::text, 'inedible-parts'::text]))),
  constraint posting_moves CHECK ((from_account_id <> to_account_id)),
  constraint posting_quantity_check CHECK ((quantity > 0))
);
alter table posting enable row level security;
alter table posting force row level security;
CREATE INDEX posting_day_idx ON public.posting USING btree (group_id, occurred_on) INCLUDE (lot_id, from_account_id, to_account_id, quantity, reason);
CREATE INDEX posting_from_idx ON public.posting USING btree (from_account_id, occurred_at) INCLUDE (lot_id, group_id);
CREATE INDEX posting_lot_idx ON public.posting USING btree (group_id, lot_id, occurred_at) INCLUDE (from_account_id, to_account_id, quantity, seq);
create policy own_group on posting as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on posting to sealtrail_app;

create table price (
  group_id uuid not null,
  price_id uuid not null,
  lot_id uuid not null,
  price_minor bigint not null,
  per_quantity bigint,
  free_of_charge boolean not null,
  invoice_number text,
  reason text,
  supersedes_price_id uuid,
  money_no bigint not null,
  recorded_by uuid not null,
  recorded_at timestamp with time zone not null,
  constraint price_pkey PRIMARY KEY (group_id, price_id),
  constraint price_money_key UNIQUE (group_id, money_no),
  constraint price_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id),
  constraint price_lot_fkey FOREIGN KEY (group_id, lot_id) REFERENCES lot(group_id, lot_id),
  constraint price_per_quantity_check CHECK ((per_quantity > 0)),
  constraint price_price_minor_check CHECK ((price_minor >= 0)),
  constraint price_zero_is_free CHECK (((price_minor = 0) = free_of_charge))
);
alter table price enable row level security;
alter table price force row level security;
CREATE INDEX price_lot_idx ON public.price USING btree (lot_id, group_id, money_no);
create policy own_group on price as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on price to sealtrail_app;

create table probe_calibration (
  group_id uuid not null,
  calibration_id uuid not null,
  equipment_id uuid not null,
  site_id uuid not null,
  occurred_at timestamp with time zone not null,
  recorded_at timestamp with time zone not null,
  recorded_by uuid not null,
  method text not null,
  reference_c numeric(6,2) not null,
  measured_c numeric(6,2) not null,
  tolerance_c numeric(4,2) not null,
  basis jsonb not null,
  result text not null,
  next_due_on date not null,
  corrective_action text,
  document_href text,
  note text,
  supersedes_calibration_id uuid,
  correction_reason text,
  constraint probe_calibration_pkey PRIMARY KEY (group_id, calibration_id),
  constraint probe_calibration_equipment_fkey FOREIGN KEY (group_id, equipment_id) REFERENCES equipment(group_id, equipment_id),
  constraint probe_calibration_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id),
  constraint probe_calibration_site_fkey FOREIGN KEY (group_id, site_id) REFERENCES site(group_id, site_id),
  constraint probe_calibration_supersedes_fkey FOREIGN KEY (group_id, supersedes_calibration_id) REFERENCES probe_calibration(group_id, calibration_id),
  constraint probe_calibration_correction_whole CHECK (((supersedes_calibration_id IS NULL) = (correction_reason IS NULL))),
  constraint probe_calibration_method_check CHECK ((method = ANY (ARRAY['ice-point'::text, 'boiling-point'::text, 'reference-thermometer'::text, 'laboratory'::text]))),
  constraint probe_calibration_result CHECK (((result = 'passed'::text) = (abs((measured_c - reference_c)) <= tolerance_c))),
  constraint probe_calibration_result_check CHECK ((result = ANY (ARRAY['passed'::text, 'failed'::text]))),
  constraint probe_calibration_tolerance_c_check CHECK ((tolerance_c > (0)::numeric))
);
alter table probe_calibration enable row level security;
alter table probe_calibration force row level security;
CREATE INDEX probe_calibration_equipment ON public.probe_calibration USING btree (equipment_id, occurred_at, calibration_id, group_id);
CREATE UNIQUE INDEX probe_calibration_supersedes ON public.probe_calibration USING btree (supersedes_calibration_id, group_id) WHERE (supersedes_calibration_id IS NOT NULL);
create policy own_group on probe_calibration as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on probe_calibration to sealtrail_app;

create table process_check (
  group_id uuid not null,
  check_id uuid not null,
  site_id uuid not null,
  stage text not null,
  kind text not null,
  control_point text,
  about_kind text not null,
  about_id uuid not null,
  batch_id uuid,
  lot_id uuid,
  packing_run_id uuid,
  goods_receipt_id uuid,
  dispatch_id uuid,
  place_id uuid,
  machine_id uuid,
  instrument_id uuid,
  occurred_at timestamp with time zone not null,
  occurred_on date not null,
  recorded_at timestamp with time zone not null,
  recorded_by uuid not null,
  done_by uuid not null,
  measured jsonb not null,
  limits jsonb not null,
  result text not null,
  judgement jsonb not null,
  document_href text,
  note text,
  supersedes_check_id uuid,
  correction_reason text,
  constraint process_check_pkey PRIMARY KEY (group_id, check_id),
  constraint process_check_batch_fkey FOREIGN KEY (group_id, batch_id) REFERENCES batch(group_id, batch_id),
  constraint process_check_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id),
  constraint process_check_instrument_fkey FOREIGN KEY (group_id, instrument_id) REFERENCES equipment(group_id, equipment_id),
  constraint process_check_lot_fkey FOREIGN KEY (group_id, lot_id) REFERENCES lot(group_id, lot_id),
  constraint process_check_machine_fkey FOREIGN KEY (group_id, machine_id) REFERENCES equipment(group_id, equipment_id),
  constraint process_check_site_fkey FOREIGN KEY (group_id, site_id) REFERENCES site(group_id, site_id),
  constraint process_check_supersedes_fkey FOREIGN KEY (group_id, supersedes_check_id) REFERENCES process_check(group_id, check_id),
  constraint process_check_correction_whole CHECK (((supersedes_check_id IS NULL) = (correction_reason IS NULL))),
  constraint process_check_result_check CHECK ((result = ANY (ARRAY['passed'::text, 'failed'::text])))
);
alter table process_check enable row level security;
alter table process_check force row level security;
CREATE INDEX process_check_batch ON public.process_check USING btree (batch_id, occurred_at, group_id) WHERE (batch_id IS NOT NULL);
CREATE INDEX process_check_failed ON public.process_check USING btree (occurred_at, check_id, site_id, group_id) WHERE (result = 'failed'::text);
CREATE INDEX process_check_instrument ON public.process_check USING btree (instrument_id, occurred_at, group_id) WHERE (instrument_id IS NOT NULL);
CREATE INDEX process_check_lot ON public.process_check USING btree (lot_id, occurred_at, group_id) WHERE (lot_id IS NOT NULL);
CREATE INDEX process_check_machine ON public.process_check USING btree (machine_id, occurred_at, group_id) WHERE (machine_id IS NOT NULL);
CREATE INDEX process_check_run ON public.process_check USING btree (packing_run_id, group_id) WHERE (packing_run_id IS NOT NULL);
CREATE INDEX process_check_site ON public.process_check USING btree (site_id, occurred_at, check_id, group_id);
CREATE UNIQUE INDEX process_check_supersedes_key ON public.process_check USING btree (supersedes_check_id, group_id) WHERE (supersedes_check_id IS NOT NULL);
CREATE INDEX process_check_time ON public.process_check USING btree (occurred_at, check_id, site_id, group_id);
create policy own_group on process_check as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on process_check to sealtrail_app;

create table process_check_series (
  group_id uuid not null,
  check_id uuid not null,
  minutes double precision[] not null,
  temperatures_c double precision[] not null,
  constraint process_check_series_pkey PRIMARY KEY (group_id, check_id),
  constraint process_check_series_check_fkey FOREIGN KEY (group_id, check_id) REFERENCES process_check(group_id, check_id),
  constraint process_check_series_same_length CHECK ((cardinality(minutes) = cardinality(temperatures_c)))
);
alter table process_check_series enable row level security;
alter table process_check_series force row level security;
create policy own_group on process_check_series as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on process_check_series to sealtrail_app;

create table process_plan (
  group_id uuid not null,
  plan_id uuid not null,
  recipe_id uuid not null,
  version integer not null,
  content jsonb not null,
  note text,
  recorded_at timestamp with time zone not null,
  recorded_by uuid not null,
  constraint process_plan_pkey PRIMARY KEY (group_id, plan_id),
  constraint process_plan_version_key UNIQUE (group_id, recipe_id, version),
  constraint process_plan_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id),
  constraint process_plan_recipe_fkey FOREIGN KEY (group_id, recipe_id) REFERENCES recipe(group_id, recipe_id),
  constraint process_plan_version_check CHECK ((version > 0))
);
alter table process_plan enable row level security;
alter table process_plan force row level security;
create policy own_group on process_plan as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on process_plan to sealtrail_app;

create table reading (
  group_no integer not null,
  sensor_no integer not null,
  at timestamp with time zone not null,
  recorded_at timestamp with time zone not null,
  centi_c smallint not null,
  time_doubt boolean not null,
  constraint reading_pkey PRIMARY KEY (group_no, sensor_no, at, centi_c),
  constraint reading_centi_c_check CHECK (((centi_c >= '-6000'::integer) AND (centi_c <= 15000)))
) partition by RANGE (at);
alter table reading enable row level security;
alter table reading force row level security;
CREATE INDEX reading_doubt_idx ON ONLY public.reading USING btree (sensor_no, at) WHERE time_doubt;
create policy own_group on reading as permissive for all to public using ((group_no = ( SELECT g.group_no
   FROM groups g
  WHERE (g.group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))))) with check ((group_no = ( SELECT g.group_no
   FROM groups g
  WHERE (g.group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")))));
grant insert, select on reading to sealtrail_app;
grant update (time_doubt) on reading to sealtrail_app;

create table reading_import (
  group_id uuid not null,
  reading_import_id uuid not null,
  upload_id uuid not null,
  content_hash bytea not null,
  state text not null,
  media_type text not null,
  site_ids uuid[],
  actor_id uuid not null,
  actor_is_device boolean not null,
  received_at timestamp with time zone not null,
  clock_offset_ms bigint,
  columns text[] default '{}'::text[] not null,
  chunks integer not null,
  chunks_done integer default 0 not null,
  lines integer not null,
  lines_done integer default 0 not null,
  stored integer default 0 not null,
  duplicates integer default 0 not null,
  conflicts integer default 0 not null,
  refused integer default 0 not null,
  place_days integer default 0 not null,
  problems jsonb default '[]'::jsonb not null,
  done_at timestamp with time zone,
  constraint reading_import_pkey PRIMARY KEY (group_id, reading_import_id),
  constraint reading_import_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id),
  constraint reading_import_content_hash_check CHECK ((octet_length(content_hash) = 32)),
  constraint reading_import_state_check CHECK ((state = ANY (ARRAY['waiting'::text, 'running'::text, 'done'::text])))
);
alter table reading_import enable row level security;
alter table reading_import force row level security;
CREATE INDEX reading_import_open_idx ON public.reading_import USING btree (received_at, group_id) WHERE (state <> 'done'::text);
create policy own_group on reading_import as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on reading_import to sealtrail_app;
grant update (state, chunks_done, lines_done, stored, duplicates, conflicts, refused, place_days, problems, done_at) on reading_import to sealtrail_app;

create table reading_import_chunk (
  group_id uuid not null,
  upload_id uuid not null,
  chunk_no integer not null,
  first_line integer not null,
  lines integer not null,
  body bytea not null,
  received_at timestamp with time zone not null,
  constraint reading_import_chunk_pkey PRIMARY KEY (group_id, upload_id, chunk_no),
  constraint reading_import_chunk_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id)
);
alter table reading_import_chunk enable row level security;
alter table reading_import_chunk force row level security;
create policy own_group on reading_import_chunk as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant delete, insert, select on reading_import_chunk to sealtrail_app;

create table reading_month_done (
  group_id uuid not null,
  month date not null,
  done_at timestamp with time zone not null,
  constraint reading_month_done_pkey PRIMARY KEY (group_id, month),
  constraint reading_month_done_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id)
);
alter table reading_month_done enable row level security;
alter table reading_month_done force row level security;
create policy own_group on reading_month_done as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
create policy sweep on reading_month_done as permissive for select to sealtrail_queue using (true);
grant insert, select on reading_month_done to sealtrail_app;
grant select on reading_month_done to sealtrail_queue;

create table recall (
  group_id uuid not null,
  recall_id uuid not null,
  code text not null,
  drill boolean not null,
  title text not null,
  hold_id uuid not null,
  opened_at timestamp with time zone not null,
  opened_by uuid not null,
  opened_deputy_id uuid,
  opened_seq bigint not null,
  scope_ms integer not null,
  drawn_with text,
  constraint recall_pkey PRIMARY KEY (group_id, recall_id),
  constraint recall_code_key UNIQUE (code, group_id),
  constraint recall_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id),
  constraint recall_hold_fkey FOREIGN KEY (group_id, hold_id) REFERENCES hold(group_id, hold_id),
  constraint recall_drawn_is_drill CHECK (((drawn_with IS NULL) OR drill)),
  constraint recall_scope_ms_check CHECK ((scope_ms >= 0))
);
alter table recall enable row level security;
alter table recall force row level security;
create policy own_group on recall as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on recall to sealtrail_app;

create table recall_acknowledgement (
  group_id uuid not null,
  notice_id uuid not null,
  acknowledgement_id uuid not null,
  acknowledged_at timestamp with time zone not null,
  recorded_at timestamp with time zone not null,
  recorded_by uuid not null,
  name text not null,
  note text,
  constraint recall_acknowledgement_pkey PRIMARY KEY (group_id, notice_id),
  constraint recall_acknowledgement_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id),
  constraint recall_acknowledgement_notice_fkey FOREIGN KEY (group_id, notice_id) REFERENCES recall_notice(group_id, notice_id)
);
alter table recall_acknowledgement enable row level security;
alter table recall_acknowledgement force row level security;
create policy own_group on recall_acknowledgement as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on recall_acknowledgement to sealtrail_app;

create table recall_check (
  group_id uuid not null,
  check_id uuid not null,
  check_no bigint generated always as identity not null,
  recall_id uuid not null,
  site_id uuid not null,
  method text not null,
  effective boolean not null,
  checked_at timestamp with time zone not null,
  recorded_at timestamp with time zone not null,
  recorded_by uuid not null,
  note text,
  constraint recall_check_pkey PRIMARY KEY (group_id, check_id),
  constraint recall_check_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id),
  constraint recall_check_recall_fkey FOREIGN KEY (group_id, recall_id) REFERENCES recall(group_id, recall_id),
  constraint recall_check_site_fkey FOREIGN KEY (group_id, site_id) REFERENCES site(group_id, site_id)
);
alter table recall_check enable row level security;
alter table recall_check force row level security;
CREATE INDEX recall_check_recall_idx ON public.recall_check USING btree (recall_id, group_id);
create policy own_group on recall_check as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on recall_check to sealtrail_app;

create table recall_notice (
  group_id uuid not null,
  notice_id uuid not null,
  recall_id uuid not null,
  site_id uuid not null,
  notice_no integer not null,
  lot_count integer not null,
  lots jsonb not null,
  awaits_answer boolean not null,
  body_text text not null,
  sent_at timestamp with time zone not null,
  sent_by uuid not null,
  constraint recall_notice_pkey PRIMARY KEY (group_id, notice_id),
  constraint recall_notice_no_key UNIQUE (recall_id, site_id, notice_no, group_id),
  constraint recall_notice_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id),
  constraint recall_notice_recall_fkey FOREIGN KEY (group_id, recall_id) REFERENCES recall(group_id, recall_id),
  constraint recall_notice_site_fkey FOREIGN KEY (group_id, site_id) REFERENCES site(group_id, site_id),
  constraint recall_notice_lot_count_check CHECK ((lot_count > 0)),
  constraint recall_notice_notice_no_check CHECK ((notice_no > 0))
);
alter table recall_notice enable row level security;
alter table recall_notice force row level security;
CREATE INDEX recall_notice_site_idx ON public.recall_notice USING btree (site_id, group_id, sent_at);
create policy own_group on recall_notice as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on recall_notice to sealtrail_app;

create table recall_response (
  group_id uuid not null,
  response_id uuid not null,
  response_no bigint generated always as identity not null,
  recall_id uuid not null,
  site_id uuid not null,
  responded_at timestamp with time zone not null,
  recorded_at timestamp with time zone not null,
  recorded_by uuid not null,
  signed_by text not null,
  note text,
  constraint recall_response_pkey PRIMARY KEY (group_id, response_id),
  constraint recall_response_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id),
  constraint recall_response_recall_fkey FOREIGN KEY (group_id, recall_id) REFERENCES recall(group_id, recall_id),
  constraint recall_response_site_fkey FOREIGN KEY (group_id, site_id) REFERENCES site(group_id, site_id)
);
alter table recall_response enable row level security;
alter table recall_response force row level security;
CREATE INDEX recall_response_recall_idx ON public.recall_response USING btree (recall_id, group_id);
create policy own_group on recall_response as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on recall_response to sealtrail_app;

create table recall_response_line (
  group_id uuid not null,
  response_id uuid not null,
  line_no integer not null,
  lot_id uuid not null,
  outcome text not null,
  quantity bigint not null,
  place_id uuid,
  witness text,
  entry_fact_id uuid,
  note text,
  constraint recall_response_line_pkey PRIMARY KEY (group_id, response_id, line_no),
  constraint recall_response_line_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id),
  constraint recall_response_line_lot_fkey FOREIGN KEY (group_id, lot_id) REFERENCES lot(group_id, lot_id),
  constraint recall_response_line_response_fkey FOREIGN KEY (group_id, response_id) REFERENCES recall_response(group_id, response_id),
  constraint recall_response_line_line_no_check CHECK ((line_no > 0)),
  constraint recall_response_line_outcome_check CHECK ((outcome = ANY (ARRAY['found'::text, 'quarantined'::text, 'destroyed'::text, 'returned'::text, 'already-served'::text, 'not-found'::text]))),
  constraint recall_response_line_quantity_check CHECK ((quantity >= 0)),
  constraint recall_response_line_witness CHECK (((outcome <> 'destroyed'::text) OR (witness IS NOT NULL)))
);
alter table recall_response_line enable row level security;
alter table recall_response_line force row level security;
CREATE INDEX recall_response_line_lot_idx ON public.recall_response_line USING btree (lot_id, group_id);
create policy own_group on recall_response_line as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on recall_response_line to sealtrail_app;

create table recall_start (
  group_id uuid not null,
  recall_id uuid not null,
  start_id uuid not null,
  "position" integer not null,
  kind text not null,
  said jsonb not null,
  fact_id uuid not null,
  added_at timestamp with time zone not null,
  added_by uuid not null,
  constraint recall_start_pkey PRIMARY KEY (group_id, start_id),
  constraint recall_start_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id),
  constraint recall_start_recall_fkey FOREIGN KEY (group_id, recall_id) REFERENCES recall(group_id, recall_id),
  constraint recall_start_position_check CHECK (("position" > 0))
);
alter table recall_start enable row level security;
alter table recall_start force row level security;
CREATE INDEX recall_start_recall_idx ON public.recall_start USING btree (recall_id, group_id);
create policy own_group on recall_start as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on recall_start to sealtrail_app;

create table recall_start_lot (
  group_id uuid not null,
  start_id uuid not null,
  lot_id uuid not null,
  matched_at timestamp with time zone not null,
  constraint recall_start_lot_pkey PRIMARY KEY (group_id, start_id, lot_id),
  constraint recall_start_lot_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id),
  constraint recall_start_lot_lot_fkey FOREIGN KEY (group_id, lot_id) REFERENCES lot(group_id, lot_id),
  constraint recall_start_lot_start_fkey FOREIGN KEY (group_id, start_id) REFERENCES recall_start(group_id, start_id)
);
alter table recall_start_lot enable row level security;
alter table recall_start_lot force row level security;
CREATE INDEX recall_start_lot_lot_idx ON public.recall_start_lot USING btree (lot_id, group_id);
create policy own_group on recall_start_lot as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on recall_start_lot to sealtrail_app;

create table recall_statement (
  group_id uuid not null,
  statement_id uuid not null,
  statement_no bigint generated always as identity not null,
  recall_id uuid not null,
  said jsonb not null,
  said_at timestamp with time zone not null,
  said_by uuid not null,
  constraint recall_statement_pkey PRIMARY KEY (group_id, statement_id),
  constraint recall_statement_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id),
  constraint recall_statement_recall_fkey FOREIGN KEY (group_id, recall_id) REFERENCES recall(group_id, recall_id)
);
alter table recall_statement enable row level security;
alter table recall_statement force row level security;
CREATE INDEX recall_statement_recall_idx ON public.recall_statement USING btree (recall_id, group_id);
create policy own_group on recall_statement as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on recall_statement to sealtrail_app;

create table recall_turn (
  group_id uuid not null,
  recall_id uuid not null,
  turn_no integer not null,
  turn_id uuid not null,
  kind text not null,
  turned_at timestamp with time zone not null,
  turned_by uuid not null,
  turned_deputy_id uuid,
  note text not null,
  figures jsonb not null,
  constraint recall_turn_pkey PRIMARY KEY (group_id, recall_id, turn_no),
  constraint recall_turn_id_key UNIQUE (turn_id, group_id),
  constraint recall_turn_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id),
  constraint recall_turn_recall_fkey FOREIGN KEY (group_id, recall_id) REFERENCES recall(group_id, recall_id),
  constraint recall_turn_kind_check CHECK ((kind = ANY (ARRAY['closed'::text, 'reopened'::text]))),
  constraint recall_turn_turn_no_check CHECK ((turn_no > 0))
);
alter table recall_turn enable row level security;
alter table recall_turn force row level security;
create policy own_group on recall_turn as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on recall_turn to sealtrail_app;

create table receipt (
  group_id uuid not null,
  receipt_id uuid not null,
  dispatch_id uuid not null,
  occurred_at timestamp with time zone not null,
  recorded_at timestamp with time zone not null,
  received_by uuid not null,
  closes boolean not null,
  note text,
  closed_by_policy text,
  constraint receipt_pkey PRIMARY KEY (group_id, receipt_id),
  constraint receipt_dispatch_fkey FOREIGN KEY (group_id, dispatch_id) REFERENCES dispatch(group_id, dispatch_id),
  constraint receipt_closed_by_policy_check CHECK ((closed_by_policy = ANY (ARRAY['complete'::text, 'hours'::text])))
);
alter table receipt enable row level security;
alter table receipt force row level security;
CREATE INDEX receipt_dispatch_idx ON public.receipt USING btree (group_id, dispatch_id);
create policy own_group on receipt as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on receipt to sealtrail_app;

create table receipt_line (
  group_id uuid not null,
  receipt_id uuid not null,
  line_no integer not null,
  lot_id uuid not null,
  place_id uuid not null,
  quantity bigint not null,
  condition text not null,
  temperature_c numeric(5,2),
  constraint receipt_line_pkey PRIMARY KEY (group_id, receipt_id, line_no),
  constraint receipt_line_lot_fkey FOREIGN KEY (group_id, lot_id) REFERENCES lot(group_id, lot_id),
  constraint receipt_line_receipt_fkey FOREIGN KEY (group_id, receipt_id) REFERENCES receipt(group_id, receipt_id),
  constraint receipt_line_condition_check CHECK ((condition = ANY (ARRAY['accepted'::text, 'damaged'::text, 'too-warm'::text]))),
  constraint receipt_line_quantity_check CHECK ((quantity > 0))
);
alter table receipt_line enable row level security;
alter table receipt_line force row level security;
create policy own_group on receipt_line as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on receipt_line to sealtrail_app;

create table recipe (
  group_id uuid not null,
  recipe_id uuid not null,
  item_id uuid not null,
  code text not null,
  name text not null,
  expected_yield_ppm integer not null,
  steps text[] not null,
  kill_step boolean not null,
  inputs jsonb not null,
  active boolean default true not null,
  version integer default 1 not null,
  constraint recipe_pkey PRIMARY KEY (group_id, recipe_id),
  constraint recipe_code_key UNIQUE (group_id, code),
  constraint recipe_item_fkey FOREIGN KEY (group_id, item_id) REFERENCES item(group_id, item_id),
  constraint recipe_expected_yield_ppm_check CHECK (((expected_yield_ppm >= 1) AND (expected_yield_ppm <= 10000000)))
);
alter table recipe enable row level security;
alter table recipe force row level security;
create policy own_group on recipe as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on recipe to sealtrail_app;
grant update (name, expected_yield_ppm, steps, kill_step, inputs, active, version) on recipe to sealtrail_app;

create table refusal (
  group_id uuid not null,
  refusal_id uuid not null,
  dispatch_id uuid not null,
  return_dispatch_id uuid not null,
  reason text not null,
  occurred_at timestamp with time zone not null,
  recorded_at timestamp with time zone not null,
  recorded_by uuid not null,
  constraint refusal_pkey PRIMARY KEY (group_id, refusal_id),
  constraint refusal_dispatch_fkey FOREIGN KEY (group_id, dispatch_id) REFERENCES dispatch(group_id, dispatch_id),
  constraint refusal_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id),
  constraint refusal_return_fkey FOREIGN KEY (group_id, return_dispatch_id) REFERENCES dispatch(group_id, dispatch_id)
);
alter table refusal enable row level security;
alter table refusal force row level security;
CREATE INDEX refusal_dispatch_idx ON public.refusal USING btree (dispatch_id, group_id);
create policy own_group on refusal as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on refusal to sealtrail_app;

create table relabel_done (
  group_id uuid not null,
  done_id uuid not null,
  relabel_id uuid not null,
  how text not null,
  quantity bigint not null,
  serials text[] default '{}'::text[] not null,
  witness_id uuid,
  nothing_left boolean not null,
  done_at timestamp with time zone not null,
  done_by uuid not null,
  recorded_at timestamp with time zone not null,
  done_no bigint generated always as identity not null,
  constraint relabel_done_pkey PRIMARY KEY (group_id, done_id),
  constraint relabel_done_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id),
  constraint relabel_done_relabel_fkey FOREIGN KEY (group_id, relabel_id) REFERENCES hold(group_id, hold_id),
  constraint relabel_done_how_check CHECK ((how = ANY (ARRAY['scanned'::text, 'written-witnessed'::text]))),
  constraint relabel_done_quantity_check CHECK ((quantity >= 0)),
  constraint relabel_done_witnessed CHECK ((((how = 'written-witnessed'::text) = (witness_id IS NOT NULL)) AND (witness_id <> done_by)))
);
alter table relabel_done enable row level security;
alter table relabel_done force row level security;
CREATE INDEX relabel_done_relabel_idx ON public.relabel_done USING btree (relabel_id, group_id);
create policy own_group on relabel_done as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on relabel_done to sealtrail_app;

create table report_export (
  group_id uuid not null,
  export_id uuid not null,
  report text not null,
  month date not null,
  through_month date not null,
  site_ids uuid[],
  cut_seq bigint not null,
  cut_money_no bigint not null,
  cut_recorded_at timestamp with time zone not null,
  format text not null,
  state text not null,
  rows_done bigint default 0 not null,
  rows_of bigint,
  tries integer default 0 not null,
  failure text,
  bytes bigint,
  sha256 bytea,
  asked_by uuid not null,
  asked_at timestamp with time zone not null,
  done_at timestamp with time zone,
  constraint report_export_pkey PRIMARY KEY (group_id, export_id),
  constraint report_export_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id),
  constraint report_export_format_check CHECK ((format = ANY (ARRAY['json'::text, 'csv'::text, 'xlsx'::text, 'html'::text, 'pdf'::text]))),
  constraint report_export_report_check CHECK ((report = ANY (ARRAY['waste-and-yield'::text, 'lines'::text]))),
  constraint report_export_sha256_check CHECK ((octet_length(sha256) = 32)),
  constraint report_export_state_check CHECK ((state = ANY (ARRAY['waiting'::text, 'making'::text, 'ready'::text, 'failed'::text, 'trimmed'::text])))
);
alter table report_export enable row level security;
alter table report_export force row level security;
CREATE INDEX report_export_open_idx ON public.report_export USING btree (asked_at, group_id) WHERE (state = ANY (ARRAY['waiting'::text, 'making'::text]));
create policy own_group on report_export as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on report_export to sealtrail_app;
grant update (state, rows_done, rows_of, tries, failure, bytes, sha256, done_at) on report_export to sealtrail_app;

create table report_export_piece (
  group_id uuid not null,
  export_id uuid not null,
  piece_no integer not null,
  body bytea not null,
  constraint report_export_piece_pkey PRIMARY KEY (group_id, export_id, piece_no),
  constraint report_export_piece_export_fkey FOREIGN KEY (group_id, export_id) REFERENCES report_export(group_id, export_id)
);
alter table report_export_piece enable row level security;
alter table report_export_piece force row level security;
create policy own_group on report_export_piece as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant delete, insert, select on report_export_piece to sealtrail_app;

create table requirement (
  group_id uuid not null,
  requirement_id uuid not null,
  site_id uuid not null,
  service_date date not null,
  meal text not null,
  item_id uuid not null,
  texture_level smallint,
  diet_codes text[] default '{}'::text[] not null,
  constraint requirement_pkey PRIMARY KEY (group_id, requirement_id),
  constraint requirement_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id),
  constraint requirement_item_fkey FOREIGN KEY (group_id, item_id) REFERENCES item(group_id, item_id),
  constraint requirement_site_fkey FOREIGN KEY (group_id, site_id) REFERENCES site(group_id, site_id),
  constraint requirement_meal_check CHECK ((meal = ANY (ARRAY['breakfast'::text, 'lunch'::text, 'dinner'::text, 'other'::text]))),
  constraint requirement_texture_level_check CHECK (((texture_level >= 0) AND (texture_level <= 7)))
);
alter table requirement enable row level security;
alter table requirement force row level security;
CREATE INDEX requirement_day_idx ON public.requirement USING btree (service_date, group_id);
CREATE INDEX requirement_site_day_idx ON public.requirement USING btree (site_id, service_date, group_id);
create policy own_group on requirement as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on requirement to sealtrail_app;

create table requirement_number (
  group_id uuid not null,
  requirement_id uuid not null,
  revision integer not null,
  fact_id uuid not null,
  portions integer not null,
  note text,
  recorded_at timestamp with time zone not null,
  recorded_by uuid not null,
  constraint requirement_number_pkey PRIMARY KEY (group_id, requirement_id, revision),
  constraint requirement_number_requirement_fkey FOREIGN KEY (group_id, requirement_id) REFERENCES requirement(group_id, requirement_id),
  constraint requirement_number_portions_check CHECK ((portions >= 0)),
  constraint requirement_number_revision_check CHECK ((revision >= 1))
);
alter table requirement_number enable row level security;
alter table requirement_number force row level security;
create policy own_group on requirement_number as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on requirement_number to sealtrail_app;

create table run_out_cost (
  group_id uuid not null,
  run_out_cost_id uuid not null,
  site_id uuid,
  item_id uuid,
  cost_minor bigint,
  per_quantity bigint default 1 not null,
  ratio_percent integer,
  note text,
  recorded_at timestamp with time zone not null,
  recorded_by uuid not null,
  stated_no bigint generated always as identity not null,
  constraint run_out_cost_pkey PRIMARY KEY (group_id, run_out_cost_id),
  constraint run_out_cost_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id),
  constraint run_out_cost_item_fkey FOREIGN KEY (group_id, item_id) REFERENCES item(group_id, item_id),
  constraint run_out_cost_site_fkey FOREIGN KEY (group_id, site_id) REFERENCES site(group_id, site_id),
  constraint run_out_cost_cost_minor_check CHECK ((cost_minor > 0)),
  constraint run_out_cost_one_way CHECK (((cost_minor IS NULL) <> (ratio_percent IS NULL))),
  constraint run_out_cost_per_quantity_check CHECK ((per_quantity > 0)),
  constraint run_out_cost_ratio_percent_check CHECK ((ratio_percent > 0))
);
alter table run_out_cost enable row level security;
alter table run_out_cost force row level security;
create policy own_group on run_out_cost as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on run_out_cost to sealtrail_app;

create table savings_baseline (
  group_id uuid not null,
  baseline_id uuid not null,
  month date not null,
  through_month date not null,
  cut_seq bigint not null,
  cut_money_no bigint not null,
  note text,
  created_by uuid not null,
  recorded_at timestamp with time zone not null,
  constraint savings_baseline_pkey PRIMARY KEY (group_id, baseline_id),
  constraint savings_baseline_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id),
  constraint savings_baseline_months CHECK ((through_month >= month))
);
alter table savings_baseline enable row level security;
alter table savings_baseline force row level security;
create policy own_group on savings_baseline as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on savings_baseline to sealtrail_app;

create table scan (
  group_id uuid not null,
  scan_id uuid not null,
  site_id uuid not null,
  kind text not null,
  code text not null,
  lot_id uuid,
  serial text,
  dispatch_id uuid,
  place_id uuid,
  quantity bigint,
  condition text,
  reason text,
  destination text,
  note jsonb default '{}'::jsonb not null,
  occurred_at timestamp with time zone not null,
  occurred_on date not null,
  clock_offset_ms bigint,
  recorded_at timestamp with time zone not null,
  actor_id uuid not null,
  content_hash bytea not null,
  outcome text not null,
  presumed_place_id uuid,
  total_id uuid,
  named text,
  constraint scan_pkey PRIMARY KEY (group_id, scan_id),
  constraint scan_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id),
  constraint scan_lot_fkey FOREIGN KEY (group_id, lot_id) REFERENCES lot(group_id, lot_id),
  constraint scan_site_fkey FOREIGN KEY (group_id, site_id) REFERENCES site(group_id, site_id),
  constraint scan_identity CHECK (((outcome <> 'awaiting-identity'::text) OR (lot_id IS NULL))),
  constraint scan_kind_check CHECK ((kind = ANY (ARRAY['arrival'::text, 'put-away'::text, 'use'::text, 'discard'::text, 'count'::text, 'conversion'::text]))),
  constraint scan_outcome_check CHECK ((outcome = ANY (ARRAY['recorded'::text, 'already-recorded'::text, 'awaiting-identity'::text, 'reversed'::text])))
);
alter table scan enable row level security;
alter table scan force row level security;
CREATE INDEX scan_crate_idx ON public.scan USING btree (COALESCE(named, code), group_id) WHERE ((lot_id IS NULL) AND (kind = 'arrival'::text));
CREATE INDEX scan_dispatch_idx ON public.scan USING btree (group_id, dispatch_id) WHERE (dispatch_id IS NOT NULL);
CREATE INDEX scan_serial_idx ON public.scan USING btree (group_id, lot_id, serial) WHERE (serial IS NOT NULL);
CREATE INDEX scan_total_idx ON public.scan USING btree (total_id, group_id) WHERE (total_id IS NOT NULL);
CREATE INDEX scan_waiting_idx ON public.scan USING btree (group_id, code) WHERE (outcome = 'awaiting-identity'::text);
create policy own_group on scan as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on scan to sealtrail_app;
grant update (lot_id, serial, dispatch_id, place_id, outcome, presumed_place_id, total_id) on scan to sealtrail_app;

create table sensor (
  group_id uuid not null,
  sensor_id uuid not null,
  sensor_no integer generated always as identity not null,
  site_id uuid not null,
  code text not null,
  name text not null,
  kind text not null,
  device_id uuid,
  active boolean default true not null,
  version integer default 1 not null,
  constraint sensor_pkey PRIMARY KEY (group_id, sensor_id),
  constraint sensor_code_key UNIQUE (code, group_id),
  constraint sensor_no_key UNIQUE (sensor_no),
  constraint sensor_device_fkey FOREIGN KEY (group_id, device_id) REFERENCES device(group_id, device_id),
  constraint sensor_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id),
  constraint sensor_site_fkey FOREIGN KEY (group_id, site_id) REFERENCES site(group_id, site_id),
  constraint sensor_kind_check CHECK ((kind = ANY (ARRAY['air'::text, 'simulant'::text, 'between-packs'::text])))
);
alter table sensor enable row level security;
alter table sensor force row level security;
create policy own_group on sensor as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on sensor to sealtrail_app;
grant update (name, device_id, active, version) on sensor to sealtrail_app;

create table sensor_location (
  group_id uuid not null,
  location_id uuid not null,
  sensor_id uuid not null,
  statement_no integer not null,
  from_at timestamp with time zone not null,
  place_id uuid,
  vehicle text,
  crate_code text,
  recorded_at timestamp with time zone not null,
  recorded_by uuid not null,
  constraint sensor_location_pkey PRIMARY KEY (group_id, location_id),
  constraint sensor_location_statement_key UNIQUE (sensor_id, group_id, statement_no),
  constraint sensor_location_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id),
  constraint sensor_location_place_fkey FOREIGN KEY (group_id, place_id) REFERENCES place(group_id, place_id),
  constraint sensor_location_sensor_fkey FOREIGN KEY (group_id, sensor_id) REFERENCES sensor(group_id, sensor_id),
  constraint sensor_location_one CHECK ((num_nonnulls(place_id, vehicle, crate_code) <= 1))
);
alter table sensor_location enable row level security;
alter table sensor_location force row level security;
CREATE INDEX sensor_location_crate_idx ON public.sensor_location USING btree (crate_code, group_id) WHERE (crate_code IS NOT NULL);
CREATE INDEX sensor_location_place_idx ON public.sensor_location USING btree (place_id, group_id) WHERE (place_id IS NOT NULL);
CREATE INDEX sensor_location_sensor_idx ON public.sensor_location USING btree (sensor_id, group_id, from_at);
CREATE INDEX sensor_location_vehicle_idx ON public.sensor_location USING btree (vehicle, group_id) WHERE (vehicle IS NOT NULL);
create policy own_group on sensor_location as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on sensor_location to sealtrail_app;

create table shelf_life_cursor (
  group_id uuid not null,
  seq bigint not null,
  limits_version integer not null,
  constraint shelf_life_cursor_pkey PRIMARY KEY (group_id),
  constraint shelf_life_cursor_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id)
);
alter table shelf_life_cursor enable row level security;
alter table shelf_life_cursor force row level security;
create policy own_group on shelf_life_cursor as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on shelf_life_cursor to sealtrail_app;
grant update (seq, limits_version) on shelf_life_cursor to sealtrail_app;

create table shelf_life_decision (
  group_id uuid not null,
  decision_id uuid not null,
  lot_id uuid not null,
  account_id uuid not null,
  kind text not null,
  effective_at timestamp with time zone,
  hold_id uuid,
  limit_code text,
  limit_ends_at timestamp with time zone,
  reason text not null,
  decided_at timestamp with time zone not null,
  decided_by uuid not null,
  deputy_id uuid,
  constraint shelf_life_decision_pkey PRIMARY KEY (group_id, decision_id),
  constraint shelf_life_decision_hold_fkey FOREIGN KEY (group_id, hold_id) REFERENCES hold(group_id, hold_id),
  constraint shelf_life_decision_lot_fkey FOREIGN KEY (group_id, lot_id) REFERENCES lot(group_id, lot_id),
  constraint shelf_life_decision_kind_check CHECK ((kind = ANY (ARRAY['accept-computed'::text, 'lift-hold'::text]))),
  constraint shelf_life_decision_whole CHECK (((kind = 'lift-hold'::text) = ((hold_id IS NOT NULL) AND (limit_code IS NOT NULL))))
);
alter table shelf_life_decision enable row level security;
alter table shelf_life_decision force row level security;
CREATE INDEX shelf_life_decision_lot_idx ON public.shelf_life_decision USING btree (lot_id, group_id);
create policy own_group on shelf_life_decision as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on shelf_life_decision to sealtrail_app;

create table shelf_life_result (
  group_id uuid not null,
  lot_id uuid not null,
  part_id uuid not null,
  result_no integer not null,
  result_id uuid not null,
  kind text not null,
  computed_at timestamp with time zone not null,
  rule_version integer not null,
  effective_at timestamp with time zone,
  ruling_code text,
  forbidden_code text,
  hold_id uuid,
  limits jsonb not null,
  inputs_hash bytea not null,
  constraint shelf_life_result_pkey PRIMARY KEY (group_id, lot_id, part_id, result_no),
  constraint shelf_life_result_lot_fkey FOREIGN KEY (group_id, lot_id) REFERENCES lot(group_id, lot_id),
  constraint shelf_life_result_inputs_hash_check CHECK ((octet_length(inputs_hash) = 32)),
  constraint shelf_life_result_kind_check CHECK ((kind = ANY (ARRAY['part'::text, 'taken'::text]))),
  constraint shelf_life_result_result_no_check CHECK ((result_no > 0))
);
alter table shelf_life_result enable row level security;
alter table shelf_life_result force row level security;
CREATE INDEX shelf_life_result_ends_idx ON public.shelf_life_result USING btree (effective_at, group_id) WHERE ((hold_id IS NULL) AND (kind = 'part'::text));
create policy own_group on shelf_life_result as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on shelf_life_result to sealtrail_app;

create table short_pick (
  group_id uuid not null,
  short_pick_id uuid not null,
  dispatch_id uuid not null,
  requirement_id uuid not null,
  short_portions integer not null,
  reason text not null,
  recorded_at timestamp with time zone not null,
  recorded_by uuid not null,
  constraint short_pick_pkey PRIMARY KEY (group_id, short_pick_id),
  constraint short_pick_dispatch_fkey FOREIGN KEY (group_id, dispatch_id) REFERENCES dispatch(group_id, dispatch_id),
  constraint short_pick_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id),
  constraint short_pick_requirement_fkey FOREIGN KEY (group_id, requirement_id) REFERENCES requirement(group_id, requirement_id),
  constraint short_pick_short_portions_check CHECK ((short_portions >= 0))
);
alter table short_pick enable row level security;
alter table short_pick force row level security;
CREATE INDEX short_pick_requirement_idx ON public.short_pick USING btree (requirement_id, group_id);
create policy own_group on short_pick as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on short_pick to sealtrail_app;

create table site (
  group_id uuid not null,
  site_id uuid not null,
  code text not null,
  name text not null,
  kind text not null,
  time_zone text not null,
  jurisdiction text not null,
  gln text,
  receiving_place_id uuid not null,
  quarantine_place_id uuid not null,
  version integer default 1 not null,
  put_away_chilled_place_id uuid,
  put_away_frozen_place_id uuid,
  put_away_ambient_place_id uuid,
  address jsonb,
  food_waste_stage text,
  constraint site_pkey PRIMARY KEY (group_id, site_id),
  constraint site_code_key UNIQUE (group_id, code),
  constraint site_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id),
  constraint site_put_away_ambient_fkey FOREIGN KEY (group_id, put_away_ambient_place_id) REFERENCES place(group_id, place_id),
  constraint site_put_away_chilled_fkey FOREIGN KEY (group_id, put_away_chilled_place_id) REFERENCES place(group_id, place_id),
  constraint site_put_away_frozen_fkey FOREIGN KEY (group_id, put_away_frozen_place_id) REFERENCES place(group_id, place_id),
  constraint site_quarantine_fkey FOREIGN KEY (group_id, quarantine_place_id) REFERENCES place(group_id, place_id) DEFERRABLE INITIALLY DEFERRED,
  constraint site_receiving_fkey FOREIGN KEY (group_id, receiving_place_id) REFERENCES place(group_id, place_id) DEFERRABLE INITIALLY DEFERRED,
  constraint site_address_check CHECK ((jsonb_typeof(address) = 'object'::text)),
  constraint site_food_waste_stage_check CHECK ((food_waste_stage = ANY (ARRAY['primary-production'::text, 'processing-and-manufacturing'::text, 'retail-and-other-distribution'::text, 'restaurants-and-food-services'::text, 'households'::text]))),
  constraint site_gln_check CHECK ((gln ~ '^[0-9]{13}$'::text)),
  constraint site_kind_check CHECK ((kind = ANY (ARRAY['central-kitchen'::text, 'satellite'::text])))
);
alter table site enable row level security;
alter table site force row level security;
create policy own_group on site as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on site to sealtrail_app;
grant update (name, jurisdiction, gln, receiving_place_id, version, put_away_chilled_place_id, put_away_frozen_place_id, put_away_ambient_place_id, address, food_waste_stage) on site to sealtrail_app;

create table site_label_settings (
  group_id uuid not null,
  settings_id uuid not null,
  site_id uuid not null,
  version integer not null,
  language text not null,
  layout text not null,
  symbol text not null,
  digital_link_domain text,
  recorded_at timestamp with time zone not null,
  recorded_by uuid not null,
  constraint site_label_settings_pkey PRIMARY KEY (group_id, settings_id),
  constraint site_label_settings_version_key UNIQUE (site_id, version, group_id),
  constraint site_label_settings_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id),
  constraint site_label_settings_site_fkey FOREIGN KEY (group_id, site_id) REFERENCES site(group_id, site_id),
  constraint site_label_settings_language_check CHECK ((language ~ '^[a-z]{2}$'::text)),
  constraint site_label_settings_layout_check CHECK ((layout ~ '^[a-z0-9][a-z0-9-]{0,39}$'::text)),
  constraint site_label_settings_symbol_check CHECK ((symbol = ANY (ARRAY['gs1datamatrix'::text, 'gs1qrcode'::text]))),
  constraint site_label_settings_version_check CHECK ((version > 0))
);
alter table site_label_settings enable row level security;
alter table site_label_settings force row level security;
create policy own_group on site_label_settings as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on site_label_settings to sealtrail_app;

create table site_policy_choice (
  group_id uuid not null,
  choice_id uuid not null,
  site_id uuid not null,
  version integer not null,
  policy_set text not null,
  confirmed text[] not null,
  confirmed_by text not null,
  note text,
  recorded_at timestamp with time zone not null,
  recorded_by uuid not null,
  constraint site_policy_choice_pkey PRIMARY KEY (group_id, choice_id),
  constraint site_policy_choice_version_key UNIQUE (site_id, version, group_id),
  constraint site_policy_choice_site_fkey FOREIGN KEY (group_id, site_id) REFERENCES site(group_id, site_id),
  constraint site_policy_choice_version_check CHECK ((version > 0))
);
alter table site_policy_choice enable row level security;
alter table site_policy_choice force row level security;
create policy own_group on site_policy_choice as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on site_policy_choice to sealtrail_app;

create table site_process_policy (
  group_id uuid not null,
  policy_id uuid not null,
  site_id uuid not null,
  version integer not null,
  content jsonb not null,
  confirmed_by text not null,
  note text,
  recorded_at timestamp with time zone not null,
  recorded_by uuid not null,
  constraint site_process_policy_pkey PRIMARY KEY (group_id, policy_id),
  constraint site_process_policy_version_key UNIQUE (group_id, site_id, version),
  constraint site_process_policy_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id),
  constraint site_process_policy_site_fkey FOREIGN KEY (group_id, site_id) REFERENCES site(group_id, site_id),
  constraint site_process_policy_version_check CHECK ((version > 0))
);
alter table site_process_policy enable row level security;
alter table site_process_policy force row level security;
create policy own_group on site_process_policy as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on site_process_policy to sealtrail_app;

create table site_receiving_policy (
  group_id uuid not null,
  site_id uuid not null,
  version integer not null,
  closes_when_complete boolean not null,
  closes_after_h integer,
  note text,
  recorded_at timestamp with time zone not null,
  recorded_by uuid not null,
  constraint site_receiving_policy_pkey PRIMARY KEY (group_id, site_id, version),
  constraint site_receiving_policy_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id),
  constraint site_receiving_policy_site_fkey FOREIGN KEY (group_id, site_id) REFERENCES site(group_id, site_id),
  constraint site_receiving_policy_closes_after_h_check CHECK (((closes_after_h >= 1) AND (closes_after_h <= 720))),
  constraint site_receiving_policy_version_check CHECK ((version > 0))
);
alter table site_receiving_policy enable row level security;
alter table site_receiving_policy force row level security;
create policy own_group on site_receiving_policy as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on site_receiving_policy to sealtrail_app;

create table sscc_range (
  group_id uuid not null,
  sscc_range_id uuid not null,
  company_prefix text not null,
  extension_digit smallint not null,
  first_serial bigint not null,
  last_serial bigint not null,
  "position" integer not null,
  added_at timestamp with time zone not null,
  constraint sscc_range_pkey PRIMARY KEY (group_id, sscc_range_id),
  constraint sscc_range_once_key UNIQUE (company_prefix, extension_digit, group_id),
  constraint sscc_range_position_key UNIQUE ("position", group_id),
  constraint sscc_range_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id),
  constraint sscc_range_check CHECK ((last_serial >= (first_serial - 1))),
  constraint sscc_range_company_prefix_check CHECK ((company_prefix ~ '^[0-9]{4,12}$'::text)),
  constraint sscc_range_extension_digit_check CHECK (((extension_digit >= 0) AND (extension_digit <= 9))),
  constraint sscc_range_first_serial_check CHECK ((first_serial >= 0)),
  constraint sscc_range_position_check CHECK (("position" > 0))
);
alter table sscc_range enable row level security;
alter table sscc_range force row level security;
create policy own_group on sscc_range as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on sscc_range to sealtrail_app;
grant update (last_serial) on sscc_range to sealtrail_app;

create table stock_count (
  group_id uuid not null,
  count_id uuid not null,
  account_id uuid not null,
  site_id uuid not null,
  occurred_at timestamp with time zone not null,
  occurred_on date not null,
  complete boolean not null,
  used_by_count boolean not null,
  constraint stock_count_pkey PRIMARY KEY (group_id, count_id),
  constraint stock_count_account_fkey FOREIGN KEY (group_id, account_id) REFERENCES account(group_id, account_id),
  constraint stock_count_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id),
  constraint stock_count_site_fkey FOREIGN KEY (group_id, site_id) REFERENCES site(group_id, site_id)
);
alter table stock_count enable row level security;
alter table stock_count force row level security;
CREATE INDEX stock_count_account_idx ON public.stock_count USING btree (account_id, group_id, occurred_at, count_id);
CREATE INDEX stock_count_site_idx ON public.stock_count USING btree (site_id, group_id, occurred_at);
create policy own_group on stock_count as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on stock_count to sealtrail_app;

create table supplier (
  group_id uuid not null,
  supplier_id uuid not null,
  code text not null,
  name text not null,
  active boolean default true not null,
  version integer default 1 not null,
  address jsonb,
  gln text,
  constraint supplier_pkey PRIMARY KEY (group_id, supplier_id),
  constraint supplier_code_key UNIQUE (group_id, code),
  constraint supplier_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id),
  constraint supplier_address_check CHECK ((jsonb_typeof(address) = 'object'::text)),
  constraint supplier_gln_check CHECK ((gln ~ '^[0-9]{13}$'::text))
);
alter table supplier enable row level security;
alter table supplier force row level security;
create policy own_group on supplier as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on supplier to sealtrail_app;
grant update (name, active, version, address, gln) on supplier to sealtrail_app;

create table unidentified_pack (
  group_id uuid not null,
  unidentified_pack_id uuid not null,
  site_id uuid not null,
  place_id uuid,
  description text not null,
  quantity bigint not null,
  found_at timestamp with time zone not null,
  recorded_at timestamp with time zone not null,
  found_by uuid not null,
  state text default 'open'::text not null,
  decision_id uuid,
  decided_at timestamp with time zone,
  decided_by uuid,
  lot_id uuid,
  serial text,
  reason text,
  destination text,
  note text,
  constraint unidentified_pack_pkey PRIMARY KEY (group_id, unidentified_pack_id),
  constraint unidentified_pack_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id),
  constraint unidentified_pack_lot_fkey FOREIGN KEY (group_id, lot_id) REFERENCES lot(group_id, lot_id),
  constraint unidentified_pack_place_fkey FOREIGN KEY (group_id, place_id) REFERENCES place(group_id, place_id),
  constraint unidentified_pack_site_fkey FOREIGN KEY (group_id, site_id) REFERENCES site(group_id, site_id),
  constraint unidentified_pack_decided_check CHECK (((state = 'open'::text) = (decision_id IS NULL))),
  constraint unidentified_pack_discarded_check CHECK (((state = 'discarded'::text) = (reason IS NOT NULL))),
  constraint unidentified_pack_identified_check CHECK (((state = 'identified'::text) = (lot_id IS NOT NULL))),
  constraint unidentified_pack_quantity_check CHECK ((quantity > 0)),
  constraint unidentified_pack_state_check CHECK ((state = ANY (ARRAY['open'::text, 'identified'::text, 'discarded'::text])))
);
alter table unidentified_pack enable row level security;
alter table unidentified_pack force row level security;
CREATE INDEX unidentified_pack_site_idx ON public.unidentified_pack USING btree (site_id, group_id, unidentified_pack_id);
create policy own_group on unidentified_pack as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on unidentified_pack to sealtrail_app;
grant update (state, decision_id, decided_at, decided_by, lot_id, serial, reason, destination, note) on unidentified_pack to sealtrail_app;

create table van_drop (
  group_id uuid not null,
  van_run_id uuid not null,
  "position" integer not null,
  dispatch_id uuid not null,
  constraint van_drop_pkey PRIMARY KEY (group_id, van_run_id, "position"),
  constraint van_drop_once_key UNIQUE (dispatch_id, group_id),
  constraint van_drop_dispatch_fkey FOREIGN KEY (group_id, dispatch_id) REFERENCES dispatch(group_id, dispatch_id),
  constraint van_drop_run_fkey FOREIGN KEY (group_id, van_run_id) REFERENCES van_run(group_id, van_run_id),
  constraint van_drop_position_check CHECK (("position" > 0))
);
alter table van_drop enable row level security;
alter table van_drop force row level security;
create policy own_group on van_drop as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant delete, insert, select on van_drop to sealtrail_app;

create table van_run (
  group_id uuid not null,
  van_run_id uuid not null,
  code text not null,
  site_id uuid not null,
  vehicle text not null,
  driver_id uuid,
  driver_name text,
  planned_for timestamp with time zone not null,
  version integer default 1 not null,
  constraint van_run_pkey PRIMARY KEY (group_id, van_run_id),
  constraint van_run_code_key UNIQUE (code, group_id),
  constraint van_run_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id),
  constraint van_run_site_fkey FOREIGN KEY (group_id, site_id) REFERENCES site(group_id, site_id)
);
alter table van_run enable row level security;
alter table van_run force row level security;
CREATE INDEX van_run_site_idx ON public.van_run USING btree (site_id, group_id, planned_for, van_run_id);
create policy own_group on van_run as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on van_run to sealtrail_app;
grant update (vehicle, driver_id, driver_name, planned_for, version) on van_run to sealtrail_app;

create table waste_reason (
  group_id uuid not null,
  waste_reason_id uuid not null,
  site_id uuid not null,
  code text not null,
  label text not null,
  standard_reason text not null,
  active boolean default true not null,
  version integer default 1 not null,
  constraint waste_reason_pkey PRIMARY KEY (group_id, waste_reason_id),
  constraint waste_reason_code_key UNIQUE (group_id, site_id, code),
  constraint waste_reason_site_fkey FOREIGN KEY (group_id, site_id) REFERENCES site(group_id, site_id)
);
alter table waste_reason enable row level security;
alter table waste_reason force row level security;
create policy own_group on waste_reason as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on waste_reason to sealtrail_app;
grant update (label, active, version) on waste_reason to sealtrail_app;

create table webhook (
  group_id uuid not null,
  webhook_id uuid not null,
  url text not null,
  description text not null,
  types text[],
  site_ids uuid[],
  state text not null,
  disabled_reason text,
  last_no bigint not null,
  failures integer default 0 not null,
  rest_until timestamp with time zone,
  created_at timestamp with time zone not null,
  created_by uuid not null,
  version integer default 1 not null,
  constraint webhook_pkey PRIMARY KEY (group_id, webhook_id),
  constraint webhook_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id),
  constraint webhook_failures_check CHECK ((failures >= 0)),
  constraint webhook_last_no_check CHECK ((last_no >= 0)),
  constraint webhook_reason_when_disabled CHECK (((state = 'disabled'::text) = (disabled_reason IS NOT NULL))),
  constraint webhook_state_check CHECK ((state = ANY (ARRAY['enabled'::text, 'disabled'::text])))
);
alter table webhook enable row level security;
alter table webhook force row level security;
create policy own_group on webhook as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on webhook to sealtrail_app;
grant update (url, description, types, state, disabled_reason, last_no, failures, rest_until, version) on webhook to sealtrail_app;

create table webhook_attempt (
  group_id uuid not null,
  webhook_id uuid not null,
  delivery_no bigint not null,
  attempt_no integer not null,
  started_at timestamp with time zone not null,
  took_ms integer not null,
  status integer,
  problem text,
  constraint webhook_attempt_pkey PRIMARY KEY (group_id, webhook_id, delivery_no, attempt_no),
  constraint webhook_attempt_delivery_fkey FOREIGN KEY (group_id, webhook_id, delivery_no) REFERENCES webhook_delivery(group_id, webhook_id, delivery_no) ON DELETE CASCADE,
  constraint webhook_attempt_attempt_no_check CHECK ((attempt_no >= 1)),
  constraint webhook_attempt_took_ms_check CHECK ((took_ms >= 0))
);
alter table webhook_attempt enable row level security;
alter table webhook_attempt force row level security;
create policy own_group on webhook_attempt as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on webhook_attempt to sealtrail_app;

create table webhook_delivery (
  group_id uuid not null,
  webhook_id uuid not null,
  delivery_no bigint generated always as identity not null,
  event_no bigint,
  message_id uuid not null,
  replay_id uuid,
  state text not null,
  attempts integer default 0 not null,
  made_at timestamp with time zone not null,
  due_at timestamp with time zone not null,
  claimed_until timestamp with time zone,
  ended_at timestamp with time zone,
  constraint webhook_delivery_pkey PRIMARY KEY (group_id, webhook_id, delivery_no),
  constraint webhook_delivery_webhook_fkey FOREIGN KEY (group_id, webhook_id) REFERENCES webhook(group_id, webhook_id),
  constraint webhook_delivery_attempts_check CHECK ((attempts >= 0)),
  constraint webhook_delivery_state_check CHECK ((state = ANY (ARRAY['waiting'::text, 'delivered'::text, 'given-up'::text])))
);
alter table webhook_delivery enable row level security;
alter table webhook_delivery force row level security;
CREATE INDEX webhook_delivery_due_idx ON public.webhook_delivery USING btree (webhook_id, due_at, delivery_no, group_id) WHERE (state = 'waiting'::text);
create policy own_group on webhook_delivery as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant delete, insert, select on webhook_delivery to sealtrail_app;
grant update (state, attempts, due_at, claimed_until, ended_at) on webhook_delivery to sealtrail_app;

create table webhook_replay (
  group_id uuid not null,
  replay_id uuid not null,
  webhook_id uuid not null,
  after_no bigint not null,
  up_to_no bigint not null,
  types text[],
  deliveries integer not null,
  asked_at timestamp with time zone not null,
  asked_by uuid not null,
  constraint webhook_replay_pkey PRIMARY KEY (group_id, replay_id),
  constraint webhook_replay_webhook_fkey FOREIGN KEY (group_id, webhook_id) REFERENCES webhook(group_id, webhook_id)
);
alter table webhook_replay enable row level security;
alter table webhook_replay force row level security;
create policy own_group on webhook_replay as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on webhook_replay to sealtrail_app;

create table webhook_secret (
  group_id uuid not null,
  webhook_id uuid not null,
  secret_no integer not null,
  sealed bytea not null,
  made_at timestamp with time zone not null,
  ends_at timestamp with time zone,
  constraint webhook_secret_pkey PRIMARY KEY (group_id, webhook_id, secret_no),
  constraint webhook_secret_webhook_fkey FOREIGN KEY (group_id, webhook_id) REFERENCES webhook(group_id, webhook_id),
  constraint webhook_secret_secret_no_check CHECK ((secret_no >= 1))
);
alter table webhook_secret enable row level security;
alter table webhook_secret force row level security;
create policy own_group on webhook_secret as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on webhook_secret to sealtrail_app;
grant update (ends_at) on webhook_secret to sealtrail_app;

create table yield_look (
  group_id uuid not null,
  seq bigint not null,
  money_no bigint not null,
  constraint yield_look_pkey PRIMARY KEY (group_id),
  constraint yield_look_group_id_fkey FOREIGN KEY (group_id) REFERENCES groups(group_id)
);
alter table yield_look enable row level security;
alter table yield_look force row level security;
create policy own_group on yield_look as permissive for all to public using ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif"))) with check ((group_id = ( SELECT (NULLIF(current_setting('app.group_id'::text, true), ''::text))::uuid AS "nullif")));
grant insert, select on yield_look to sealtrail_app;
grant update (seq, money_no) on yield_look to sealtrail_app;
