-- Goods in and going live: entry units, rejected parts, cash purchases, opening stock, packs that nobody can name.

-- Bought for cash at a shop there is no supplier of the catalogue, but there is a name.
alter table goods_receipt
  alter column supplier_id drop not null,
  add column shop_name text,
  add column shop_receipt_number text,
  add constraint goods_receipt_source_check check ((supplier_id is null) = (shop_name is not null));

-- A line that was rejected whole has no lot: nothing of it ever was in stock.
alter table goods_receipt_line
  alter column lot_id drop not null,
  alter column place_id drop not null,
  add column item_id uuid,
  add column delivery_line_no integer,
  add column entry_unit text,
  add column entry_quantity numeric(15, 3),
  add column rejected_quantity bigint not null default 0,
  add column rejected_reason text,
  add column supplier_lot_code text,
  add column use_by_date date,
  add column best_before_date date,
  add column allergens_confirmed boolean not null default false,
  add column place_presumed boolean not null default false,
  drop constraint goods_receipt_line_quantity_check,
  add constraint goods_receipt_line_quantity_check check (quantity >= 0 and rejected_quantity >= 0 and quantity + rejected_quantity > 0),
  add constraint goods_receipt_line_taken_check check ((quantity > 0) = (lot_id is not null) and (quantity > 0) = (place_id is not null)),
  add constraint goods_receipt_line_item_check check (lot_id is not null or item_id is not null),
  add constraint goods_receipt_line_rejected_check check ((rejected_quantity > 0) = (rejected_reason is not null)),
  add constraint goods_receipt_line_item_fkey foreign key (group_id, item_id) references item (group_id, item_id);

-- Best-before is about quality and blocks nothing; the shop stands where there is no supplier.
alter table lot
  add column best_before_date date,
  add column shop_name text;

-- A pack without a readable label: identified by a person or discarded, never guessed.
create table unidentified_pack (
  group_id uuid not null references groups (group_id),
  unidentified_pack_id uuid not null,
  site_id uuid not null,
  -- where it was found; it stands in quarantine meanwhile
  place_id uuid,
  description text not null,
  quantity bigint not null check (quantity > 0),
  found_at timestamptz not null,
  recorded_at timestamptz not null,
  found_by uuid not null,
  state text not null default 'open' check (state in ('open', 'identified', 'discarded')),
  decision_id uuid,
  decided_at timestamptz,
  decided_by uuid,
  lot_id uuid,
  serial text,
  reason text,
  destination text,
  note text,
  constraint unidentified_pack_pkey primary key (group_id, unidentified_pack_id),
  constraint unidentified_pack_site_fkey foreign key (group_id, site_id) references site (group_id, site_id),
  constraint unidentified_pack_place_fkey foreign key (group_id, place_id) references place (group_id, place_id),
  constraint unidentified_pack_lot_fkey foreign key (group_id, lot_id) references lot (group_id, lot_id),
  constraint unidentified_pack_decided_check check ((state = 'open') = (decision_id is null)),
  constraint unidentified_pack_identified_check check ((state = 'identified') = (lot_id is not null)),
  constraint unidentified_pack_discarded_check check ((state = 'discarded') = (reason is not null))
);
create index unidentified_pack_site_idx on unidentified_pack (site_id, group_id, unidentified_pack_id);
select protect_group_table('unidentified_pack');
grant select, insert on unidentified_pack to sealtrail_app;
grant update (state, decision_id, decided_at, decided_by, lot_id, serial, reason, destination, note) on unidentified_pack to sealtrail_app;
