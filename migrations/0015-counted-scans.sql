-- Counted scans set a total. total_id: which total a scan without serial belongs to; the latest of its standing scans governs.
-- presumed_place_id: where its lot was presumed to be at that site when it was scanned, so that what a scan posted can be told again
-- after the site's default put-away has changed. Both are null for scans that were recorded before.
alter table scan add column presumed_place_id uuid, add column total_id uuid;
-- Once for each total; does not begin with the group (see 0004).
create index scan_total_idx on scan (total_id, group_id) where total_id is not null;
grant update (place_id, presumed_place_id, total_id) on scan to sealtrail_app;
