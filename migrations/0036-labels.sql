-- Labels: words of a site's language, what is on a label beside the ledger, and every print with its reason.

-- The list of ingredients of a pack that is sold over a counter, in the order of weight, as it is printed.
alter table item add column ingredients text check (length(ingredients) between 1 and 4000);
grant update (ingredients) on item to sealtrail_app;

-- What the labels of a site look like. Versions are added; the highest rules.
create table site_label_settings (
  group_id uuid not null references groups (group_id),
  settings_id uuid not null,
  site_id uuid not null,
  version integer not null check (version > 0),
  -- a code of shared/label-words.json
  language text not null check (language ~ '^[a-z]{2}$'),
  layout text not null check (layout ~ '^[a-z0-9][a-z0-9-]{0,39}$'),
  symbol text not null check (symbol in ('gs1datamatrix', 'gs1qrcode')),
  -- null: GS1's own resolver
  digital_link_domain text,
  recorded_at timestamptz not null,
  recorded_by uuid not null,
  constraint site_label_settings_pkey primary key (group_id, settings_id),
  constraint site_label_settings_version_key unique (site_id, version, group_id),
  constraint site_label_settings_site_fkey foreign key (group_id, site_id) references site (group_id, site_id)
);
select protect_group_table('site_label_settings');
grant select, insert on site_label_settings to sealtrail_app;

-- One print: what was asked for, why, who, and what stood on the labels. Nothing of it changes; a later print supersedes by being later.
create table label_print (
  group_id uuid not null references groups (group_id),
  print_id uuid not null,
  site_id uuid not null,
  about_kind text not null check (about_kind in ('lot', 'packing-run', 'relabel', 'crate', 'dispatch')),
  about_id uuid not null,
  reason text not null,
  note text,
  layout text not null,
  copies integer not null check (copies between 1 and 500),
  labels integer not null check (labels between 1 and 500),
  -- of the label that was read in place of the damaged one, and who looked as well
  sister_serial text,
  second_person_id uuid,
  -- the labels as they were drawn, one object for each run of equal ones
  content jsonb not null,
  printed_at timestamptz not null,
  printed_by uuid not null,
  -- two of one millisecond keep the order in which they came
  print_no bigint not null generated always as identity,
  constraint label_print_pkey primary key (group_id, print_id),
  constraint label_print_site_fkey foreign key (group_id, site_id) references site (group_id, site_id),
  constraint label_print_second_is_another check (second_person_id <> printed_by),
  constraint label_print_sister_needs_second check (sister_serial is null or second_person_id is not null)
);
create index label_print_site_idx on label_print (site_id, print_no, group_id);
create index label_print_about_idx on label_print (about_id, group_id);
select protect_group_table('label_print');
grant select, insert on label_print to sealtrail_app;

-- Whose label it was. A counted lot has one row with an empty serial, whatever the number of labels.
create table label_print_pack (
  group_id uuid not null,
  print_id uuid not null,
  lot_id uuid not null,
  serial text not null,
  labels integer not null check (labels > 0),
  -- the date on the label: first moment at which it may no longer be used; null on a quarantine label
  use_by_at timestamptz,
  print_no bigint not null,
  constraint label_print_pack_pkey primary key (group_id, print_id, lot_id, serial),
  constraint label_print_pack_print_fkey foreign key (group_id, print_id) references label_print (group_id, print_id),
  constraint label_print_pack_lot_fkey foreign key (group_id, lot_id) references lot (group_id, lot_id)
);
create index label_print_pack_lot_idx on label_print_pack (lot_id, serial, print_no, group_id);
select protect_group_table('label_print_pack');
grant select, insert on label_print_pack to sealtrail_app;

create table label_print_crate (
  group_id uuid not null,
  print_id uuid not null,
  -- as it stands on the label: an SSCC, or a code of one's own
  crate_code text not null,
  labels integer not null check (labels > 0),
  constraint label_print_crate_pkey primary key (group_id, print_id, crate_code),
  constraint label_print_crate_print_fkey foreign key (group_id, print_id) references label_print (group_id, print_id)
);
create index label_print_crate_code_idx on label_print_crate (crate_code, group_id);
select protect_group_table('label_print_crate');
grant select, insert on label_print_crate to sealtrail_app;
