-- Walks at scale.
select 1;
