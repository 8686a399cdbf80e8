-- Sensors, where they are, and readings.
select 1;
