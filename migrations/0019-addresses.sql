-- Addresses.
select 1;
