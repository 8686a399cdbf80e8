-- What kitchens do besides the main job. Here: the words that several features share; each feature's own tables follow.

-- Items: how they are kept, what opening one gives, how long it then lasts, in what people count them, whom they suit.
alter table item
  add column storage text not null default 'chilled',
  add column texture_level smallint,
  add column diet_codes text[] not null default '{}',
  add column portions_per_unit integer,
  add column opened_item_id uuid,
  add column frozen_life_days integer,
  add column thawed_life_h integer,
  add column regenerated_life_h integer,
  add column entry_units jsonb not null default '[]',
  add constraint item_storage_check check (storage in ('chilled', 'frozen', 'ambient')),
  add constraint item_texture_level_check check (texture_level between 0 and 7),
  add constraint item_portions_per_unit_check check (portions_per_unit between 1 and 10000),
  add constraint item_frozen_life_days_check check (frozen_life_days between 1 and 3650),
  add constraint item_thawed_life_h_check check (thawed_life_h between 1 and 8760),
  add constraint item_regenerated_life_h_check check (regenerated_life_h between 1 and 8760),
  add constraint item_opened_item_fkey foreign key (group_id, opened_item_id) references item (group_id, item_id);
grant update (storage, texture_level, diet_codes, portions_per_unit, opened_item_id, frozen_life_days, thawed_life_h,
  regenerated_life_h, entry_units) on item to sealtrail_app;

-- Sites: where food is presumed to be put when nobody says.
alter table site
  add column put_away_chilled_place_id uuid,
  add column put_away_frozen_place_id uuid,
  add column put_away_ambient_place_id uuid,
  add constraint site_put_away_chilled_fkey foreign key (group_id, put_away_chilled_place_id) references place (group_id, place_id),
  add constraint site_put_away_frozen_fkey foreign key (group_id, put_away_frozen_place_id) references place (group_id, place_id),
  add constraint site_put_away_ambient_fkey foreign key (group_id, put_away_ambient_place_id) references place (group_id, place_id);
grant update (put_away_chilled_place_id, put_away_frozen_place_id, put_away_ambient_place_id) on site to sealtrail_app;

-- Places whose use nobody records: a count's difference is then use.
alter table place add column used_by_count boolean not null default false;
grant update (used_by_count) on place to sealtrail_app;

-- Lots that are born otherwise than by delivery, cooking or packing.
alter table lot drop constraint lot_origin_check;
alter table lot add constraint lot_origin_check
  check (origin in ('supplied', 'produced', 'packed', 'pseudo', 'converted', 'opening'));

-- A conversion at a site (opening, thawing ...) turns one lot into another without a batch.
alter table entry drop constraint entry_kind_check;
alter table entry add constraint entry_kind_check
  check (kind in ('opening-stock', 'goods-receipt', 'batch-input', 'batch-output', 'packing', 'move', 'dispatch', 'receipt',
    'use', 'discard', 'return', 'stock-count', 'conversion', 'reversal'));
alter table scan drop constraint scan_kind_check;
alter table scan add constraint scan_kind_check
  check (kind in ('arrival', 'put-away', 'use', 'discard', 'count', 'conversion'));

-- Which tablet a person acted on.
alter table fact add column device_id uuid;
