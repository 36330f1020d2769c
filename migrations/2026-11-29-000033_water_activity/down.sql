-- What was written stays legible: it goes into the note of its entry.
UPDATE batch_entry SET
    note = left(concat_ws('; ', 'water activity ' || trim_scale(water_activity), note), 4000),
    kind = 'observation', quantity = NULL, water_activity = NULL
WHERE kind = 'water_activity';

ALTER TABLE batch_entry DROP COLUMN water_activity;
ALTER TABLE batch_entry DROP CONSTRAINT batch_entry_kind_check;
ALTER TABLE batch_entry ADD CONSTRAINT batch_entry_kind_check
    CHECK (kind IN ('weighing', 'temperature', 'observation', 'step_done', 'yield', 'ph'));
