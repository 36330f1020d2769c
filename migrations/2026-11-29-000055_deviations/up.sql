-- Why a weighing is outside the tolerance, as its maker says it. What went otherwise than the method asks, besides a weighing, is
-- an entry of its own.
ALTER TABLE batch_entry DROP CONSTRAINT batch_entry_kind_check;
ALTER TABLE batch_entry ADD CONSTRAINT batch_entry_kind_check CHECK (kind IN
    ('weighing', 'temperature', 'observation', 'step_done', 'yield', 'ph', 'water_activity', 'deviation'));
ALTER TABLE batch_entry ADD COLUMN deviation text;
ALTER TABLE batch_entry ADD CONSTRAINT batch_entry_deviation
    CHECK (deviation IS NULL OR (kind = 'weighing' AND char_length(deviation) BETWEEN 1 AND 1000));
ALTER TABLE batch_entry ADD CONSTRAINT batch_entry_deviation_said CHECK (kind <> 'deviation' OR note IS NOT NULL);

-- Who authorised a deviation. What it was and why stands in the entry alone; another entry in its place is authorised anew.
CREATE TABLE batch_authorisation (
    entry_id uuid PRIMARY KEY,
    batch_id uuid NOT NULL,
    maker_id uuid NOT NULL,
    by_id uuid NOT NULL REFERENCES person (id),
    own_authorisation boolean NOT NULL,
    at timestamptz NOT NULL,
    CONSTRAINT batch_authorisation_of_entry FOREIGN KEY (entry_id, batch_id) REFERENCES batch_entry (id, batch_id),
    CONSTRAINT batch_authorisation_of_maker FOREIGN KEY (batch_id, maker_id) REFERENCES batch (id, maker_id),
    -- a second person; the maker only where the policy has none
    CONSTRAINT batch_authorisation_another CHECK (by_id <> maker_id OR own_authorisation)
);
CREATE INDEX batch_authorisation_entry ON batch_authorisation (entry_id, batch_id);
CREATE INDEX batch_authorisation_batch ON batch_authorisation (batch_id, maker_id);
CREATE INDEX batch_authorisation_by ON batch_authorisation (by_id);

-- Only a deviation that counts is authorised.
CREATE FUNCTION authorised_is_deviation() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF EXISTS (SELECT FROM batch_entry e WHERE e.id = NEW.entry_id AND e.deviation IS NULL AND e.kind <> 'deviation')
        OR EXISTS (SELECT FROM batch_entry n WHERE n.corrects_id = NEW.entry_id) THEN
        RAISE EXCEPTION 'entry % is no deviation that counts', NEW.entry_id
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'authorised_is_deviation';
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER authorised_is_deviation BEFORE INSERT ON batch_authorisation
    FOR EACH ROW EXECUTE FUNCTION authorised_is_deviation();

GRANT SELECT, INSERT ON batch_authorisation TO stillroom_service;
