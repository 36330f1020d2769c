-- A measured water activity: as typed in quantity, and as a number.
ALTER TABLE batch_entry DROP CONSTRAINT batch_entry_kind_check;
ALTER TABLE batch_entry ADD CONSTRAINT batch_entry_kind_check CHECK (kind IN
    ('weighing', 'temperature', 'observation', 'step_done', 'yield', 'ph', 'water_activity'));
ALTER TABLE batch_entry ADD COLUMN water_activity numeric;
ALTER TABLE batch_entry ADD CONSTRAINT batch_entry_water_activity_check
    CHECK ((kind = 'water_activity') = (water_activity IS NOT NULL)
        AND (water_activity IS NULL OR water_activity BETWEEN 0 AND 1));
