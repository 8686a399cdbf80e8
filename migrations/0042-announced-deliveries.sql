-- What suppliers announce with an EPCIS document. Kept as it was said: whose number, which article and which site it means is looked up on
-- reading, so that a number entered later is understood without anything being sent again.
alter table supplier add column gln text check (gln ~ '^[0-9]{13}$');
grant update (gln) on supplier to sealtrail_app;

create table epcis_capture (
  group_id uuid not null references groups (group_id),
  capture_id uuid not null,
  recorded_at timestamptz not null,
  captured_by uuid not null,
  -- the sites for which its sender may act; null: all
  site_ids uuid[],
  error_behaviour text not null check (error_behaviour in ('rollback', 'proceed')),
  content_hash bytea not null,
  -- the bytes as they came: what was said, should it ever be asked
  document bytea not null,
  event_count integer not null check (event_count > 0),
  -- what is wrong with its events; empty when nothing is
  errors jsonb not null,
  -- events that announced nothing, each with the reason
  unused jsonb not null,
  constraint epcis_capture_pkey primary key (group_id, capture_id)
);
select protect_group_table('epcis_capture');
grant select, insert on epcis_capture to sealtrail_app;

create table announced_delivery (
  group_id uuid not null references groups (group_id),
  announced_delivery_id uuid not null,
  capture_id uuid not null,
  -- the sender's name of the shipping event; made from its content where it gave none
  event_id text not null,
  shipped_at timestamptz not null,
  recorded_at timestamptz not null,
  from_gln text,
  to_gln text,
  despatch_advice text,
  purchase_order text,
  -- crates and pallets by SSCC, those inside others included
  ssccs text[] not null,
  -- of these the document does not say what is inside
  closed_ssccs text[] not null,
  constraint announced_delivery_pkey primary key (group_id, announced_delivery_id),
  constraint announced_delivery_event_key unique (group_id, event_id),
  constraint announced_delivery_capture_fkey foreign key (group_id, capture_id) references epcis_capture (group_id, capture_id)
);
create index announced_delivery_to on announced_delivery (to_gln, shipped_at, announced_delivery_id, group_id);
create index announced_delivery_capture on announced_delivery (capture_id, group_id);
select protect_group_table('announced_delivery');
grant select, insert on announced_delivery to sealtrail_app;

create table announced_delivery_line (
  group_id uuid not null references groups (group_id),
  announced_delivery_id uuid not null,
  line_no integer not null check (line_no > 0),
  -- the class or instance as URI, as it was said
  epc text not null,
  gtin text,
  lot_code text,
  sscc text,
  quantity numeric,
  -- UN/ECE Recommendation 20; null: so many of the article
  uom text,
  use_by_date date,
  best_before_date date,
  constraint announced_delivery_line_pkey primary key (group_id, announced_delivery_id, line_no),
  constraint announced_delivery_line_delivery_fkey foreign key (group_id, announced_delivery_id)
    references announced_delivery (group_id, announced_delivery_id)
);
select protect_group_table('announced_delivery_line');
grant select, insert on announced_delivery_line to sealtrail_app;

-- The sender declared the shipping event an error.
create table announced_delivery_withdrawal (
  group_id uuid not null references groups (group_id),
  announced_delivery_id uuid not null,
  capture_id uuid not null,
  declared_at timestamptz not null,
  reason text,
  constraint announced_delivery_withdrawal_pkey primary key (group_id, announced_delivery_id),
  constraint announced_delivery_withdrawal_delivery_fkey foreign key (group_id, announced_delivery_id)
    references announced_delivery (group_id, announced_delivery_id),
  constraint announced_delivery_withdrawal_capture_fkey foreign key (group_id, capture_id) references epcis_capture (group_id, capture_id)
);
select protect_group_table('announced_delivery_withdrawal');
grant select, insert on announced_delivery_withdrawal to sealtrail_app;

-- What came of it. One delivery may arrive in several receipts; a receipt is of one announced delivery.
create table announced_delivery_receipt (
  group_id uuid not null references groups (group_id),
  announced_delivery_id uuid not null,
  goods_receipt_id uuid not null,
  recorded_at timestamptz not null,
  recorded_by uuid not null,
  constraint announced_delivery_receipt_pkey primary key (group_id, announced_delivery_id, goods_receipt_id),
  constraint announced_delivery_receipt_receipt_key unique (group_id, goods_receipt_id),
  constraint announced_delivery_receipt_delivery_fkey foreign key (group_id, announced_delivery_id)
    references announced_delivery (group_id, announced_delivery_id),
  constraint announced_delivery_receipt_receipt_fkey foreign key (group_id, goods_receipt_id)
    references goods_receipt (group_id, goods_receipt_id)
);
select protect_group_table('announced_delivery_receipt');
grant select, insert on announced_delivery_receipt to sealtrail_app;
