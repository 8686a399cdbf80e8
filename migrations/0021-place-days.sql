-- Place-days, monitoring and excursions.
select 1;
