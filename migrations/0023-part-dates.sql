-- The use-by in force of a part; relabelling.
select 1;
