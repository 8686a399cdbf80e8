-- Where a business is, as food law describes a location (21 CFR 1.1310, Regulation (EU) 931/2011 Art. 3). Parts that are not known are
-- left out; nothing searches in it, so it is one column.
alter table site add column address jsonb;
alter table site add constraint site_address_check check (jsonb_typeof(address) = 'object');
grant update (address) on site to sealtrail_app;

alter table supplier add column address jsonb;
alter table supplier add constraint supplier_address_check check (jsonb_typeof(address) = 'object');
grant update (address) on supplier to sealtrail_app;

alter table groups add column address jsonb;
alter table groups add constraint groups_address_check check (jsonb_typeof(address) = 'object');
grant update (address) on groups to sealtrail_app;

-- What went into the packs of a lot: records of food law name it for each of 65,000 lots at once.
create index packing_fill_pack_idx on packing_fill (pack_lot_id, group_id);
