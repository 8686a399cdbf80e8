-- Crates (logistic units): SSCCs without collisions, crates in crates, boxes that come back.
alter table groups add column gs1_company_prefix text check (gs1_company_prefix ~ '^[0-9]{4,12}$');
grant update (gs1_company_prefix) on groups to sealtrail_app;
