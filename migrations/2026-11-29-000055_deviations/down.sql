DROP TRIGGER authorised_is_deviation ON batch_authorisation;
DROP FUNCTION authorised_is_deviation();
DROP TABLE batch_authorisation;
ALTER TABLE batch_entry DROP CONSTRAINT batch_entry_deviation_said;
-- What was written stays legible: it goes into the note of its entry.
UPDATE batch_entry SET note = left(concat_ws('; ', 'deviation: ' || deviation, note), 4000), deviation = NULL
WHERE deviation IS NOT NULL;
UPDATE batch_entry SET kind = 'observation' WHERE kind = 'deviation';
ALTER TABLE batch_entry DROP COLUMN deviation;
ALTER TABLE batch_entry DROP CONSTRAINT batch_entry_kind_check;
ALTER TABLE batch_entry ADD CONSTRAINT batch_entry_kind_check CHECK (kind IN
    ('weighing', 'temperature', 'observation', 'step_done', 'yield', 'ph', 'water_activity'));
