REVOKE UPDATE (adjusted_by) ON batch FROM stillroom_service;
DROP TRIGGER batch_adjusted_as_authorised ON batch;
DROP FUNCTION batch_adjusted_as_authorised();
ALTER TABLE batch DROP COLUMN adjusted_by;
CREATE OR REPLACE FUNCTION authorised_is_deviation() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF EXISTS (SELECT FROM batch_entry e WHERE e.id = NEW.entry_id AND e.deviation IS NULL AND e.kind <> 'deviation')
        OR EXISTS (SELECT FROM batch_entry n WHERE n.corrects_id = NEW.entry_id) THEN
        RAISE EXCEPTION 'entry % is no deviation that counts', NEW.entry_id
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'authorised_is_deviation';
    END IF;
    RETURN NEW;
END $$;
ALTER TABLE batch_entry DROP CONSTRAINT batch_entry_adjustment;
-- What was proposed stays legible as a deviation with its reason.
UPDATE batch_entry SET kind = 'deviation', quantity = NULL, grams = NULL,
    note = left(concat_ws('; ', 'adjustment by ' || quantity, note), 4000)
WHERE kind = 'adjustment';
ALTER TABLE batch_entry DROP COLUMN recipe;
ALTER TABLE batch_entry DROP CONSTRAINT batch_entry_kind_check;
ALTER TABLE batch_entry ADD CONSTRAINT batch_entry_kind_check CHECK (kind IN (
    'weighing', 'temperature', 'observation', 'step_done', 'yield', 'ph', 'water_activity', 'deviation',
    'evaporation_loss', 'transfer_loss', 'spill_loss', 'marc_loss', 'sample', 'marc_disposal',
    'cloth_disposal', 'spirit_disposal', 'appearance', 'smell', 'separation', 'ended'));
