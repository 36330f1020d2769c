-- More of a batch is made, so that a line of which too much was weighed is right. An adjustment is an entry with the line, what
-- was weighed of it, the reason, and the recipe that holds once a second person has authorised it.
ALTER TABLE batch_entry DROP CONSTRAINT batch_entry_kind_check;
ALTER TABLE batch_entry ADD CONSTRAINT batch_entry_kind_check CHECK (kind IN (
    'weighing', 'temperature', 'observation', 'step_done', 'yield', 'ph', 'water_activity', 'deviation',
    'evaporation_loss', 'transfer_loss', 'spill_loss', 'marc_loss', 'sample', 'marc_disposal',
    'cloth_disposal', 'spirit_disposal', 'appearance', 'smell', 'separation', 'ended', 'adjustment'));
ALTER TABLE batch_entry ADD COLUMN recipe text;
ALTER TABLE batch_entry ADD CONSTRAINT batch_entry_adjustment CHECK (CASE WHEN kind = 'adjustment'
    THEN recipe IS NOT NULL AND line IS NOT NULL AND grams IS NOT NULL AND note IS NOT NULL AND step IS NULL
        AND corrects_id IS NULL
    ELSE recipe IS NULL END);

-- The adjustment whose recipe holds; none: the one that the batch was opened with.
ALTER TABLE batch ADD COLUMN adjusted_by uuid;
ALTER TABLE batch ADD CONSTRAINT batch_adjusted_by FOREIGN KEY (adjusted_by, id) REFERENCES batch_entry (id, batch_id);
CREATE INDEX batch_adjusted ON batch (adjusted_by, id);

CREATE OR REPLACE FUNCTION authorised_is_deviation() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF EXISTS (SELECT FROM batch_entry e WHERE e.id = NEW.entry_id AND e.deviation IS NULL
            AND e.kind NOT IN ('deviation', 'adjustment'))
        OR EXISTS (SELECT FROM batch_entry n WHERE n.corrects_id = NEW.entry_id) THEN
        RAISE EXCEPTION 'entry % is no deviation that counts', NEW.entry_id
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'authorised_is_deviation';
    END IF;
    RETURN NEW;
END $$;

-- Only an adjustment that was authorised holds, and a later one is never put back by an earlier one.
CREATE FUNCTION batch_adjusted_as_authorised() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF NEW.adjusted_by IS NULL OR NEW.state NOT IN ('making', 'returned')
        OR NOT EXISTS (SELECT FROM batch_entry e JOIN batch_authorisation a ON a.entry_id = e.id
            WHERE e.id = NEW.adjusted_by AND e.batch_id = NEW.id AND e.kind = 'adjustment'
                AND e.number > coalesce((SELECT o.number FROM batch_entry o WHERE o.id = OLD.adjusted_by), 0)) THEN
        RAISE EXCEPTION 'batch % is adjusted by nothing that was authorised', NEW.id
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'batch_adjusted_as_authorised';
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER batch_adjusted_as_authorised BEFORE UPDATE OF adjusted_by ON batch
    FOR EACH ROW WHEN (NEW.adjusted_by IS DISTINCT FROM OLD.adjusted_by)
    EXECUTE FUNCTION batch_adjusted_as_authorised();

GRANT UPDATE (adjusted_by) ON batch TO stillroom_service;
