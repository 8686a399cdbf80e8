-- Limits, results, decisions.
select 1;
