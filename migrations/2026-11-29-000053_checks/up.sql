-- What was checked before a batch was made, and which equipment it was made with: line clearance, cleaning and sanitising,
-- check-weight, thermometer, pH meter, room conditions. It says nothing of the recipe. Never changed: a correction is a further
-- check with its reason.
CREATE TABLE batch_check (
    id uuid PRIMARY KEY,
    batch_id uuid NOT NULL,
    number integer NOT NULL CHECK (number > 0),
    kind text NOT NULL CONSTRAINT batch_check_kind CHECK (kind IN
        ('line_clearance', 'cleaning', 'check_weight', 'thermometer', 'ph_meter', 'room', 'equipment')),
    -- the balance, thermometer, pH meter or piece of equipment
    instrument text CHECK (char_length(instrument) BETWEEN 1 AND 200),
    -- as typed
    reference text,
    reading text,
    tolerance text,
    humidity text,
    -- in g, degrees Celsius or pH, by the kind
    reference_value numeric,
    reading_value numeric,
    tolerance_value numeric,
    humidity_percent numeric CHECK (humidity_percent BETWEEN 0 AND 100),
    passed boolean,
    note text CHECK (char_length(note) BETWEEN 1 AND 1000),
    -- the last entry and submission of the record when it was written
    after_entry integer NOT NULL CHECK (after_entry >= 0),
    after_submission integer NOT NULL CHECK (after_submission >= 0),
    corrects_id uuid,
    reason text CHECK (char_length(reason) BETWEEN 1 AND 1000),
    by_id uuid NOT NULL REFERENCES person (id),
    at timestamptz NOT NULL,
    CONSTRAINT batch_check_number UNIQUE (batch_id, number),
    CONSTRAINT batch_check_of_batch UNIQUE (id, batch_id),
    -- one correction of a check; the next corrects the correction
    CONSTRAINT batch_check_corrected_once UNIQUE (corrects_id),
    -- only the maker writes
    CONSTRAINT batch_check_by_maker FOREIGN KEY (batch_id, by_id) REFERENCES batch (id, maker_id),
    CONSTRAINT batch_check_corrects FOREIGN KEY (corrects_id, batch_id) REFERENCES batch_check (id, batch_id),
    CONSTRAINT batch_check_reason CHECK ((corrects_id IS NULL) = (reason IS NULL)),
    CONSTRAINT batch_check_other CHECK (corrects_id <> id),
    CONSTRAINT batch_check_typed CHECK ((reference IS NULL) = (reference_value IS NULL)
        AND (reading IS NULL) = (reading_value IS NULL) AND (tolerance IS NULL) = (tolerance_value IS NULL)
        AND (humidity IS NULL) = (humidity_percent IS NULL)),
    -- a meter is held against a reference; the reading decides, and nobody else
    CONSTRAINT batch_check_meter CHECK (CASE WHEN kind IN ('check_weight', 'thermometer', 'ph_meter')
        THEN instrument IS NOT NULL AND reference IS NOT NULL AND reading IS NOT NULL AND tolerance IS NOT NULL
            AND passed IS NOT DISTINCT FROM (abs(reading_value - reference_value) <= tolerance_value)
        ELSE reference IS NULL AND tolerance IS NULL END),
    CONSTRAINT batch_check_tolerance CHECK (tolerance_value > 0),
    CONSTRAINT batch_check_room CHECK (CASE WHEN kind = 'room'
        THEN reading IS NOT NULL AND humidity IS NOT NULL
        ELSE humidity IS NULL AND (reading IS NULL OR reference IS NOT NULL) END),
    -- what a person looked at and found right or not; what is not right says what was done
    CONSTRAINT batch_check_looked_at CHECK (CASE WHEN kind IN ('line_clearance', 'cleaning')
        THEN passed IS NOT NULL AND (passed OR note IS NOT NULL)
        WHEN kind IN ('room', 'equipment') THEN passed IS NULL ELSE true END),
    CONSTRAINT batch_check_equipment CHECK (kind <> 'equipment' OR instrument IS NOT NULL)
);
CREATE INDEX batch_check_maker ON batch_check (batch_id, by_id);
CREATE INDEX batch_check_correction ON batch_check (corrects_id, batch_id);
CREATE INDEX batch_check_by ON batch_check (by_id, id);

-- Whether the record is asked for checks. Batches that were opened before there were any are not.
ALTER TABLE batch ADD COLUMN checks_asked boolean CONSTRAINT batch_checks_asked CHECK (checks_asked);
CREATE TRIGGER batch_checks_asked_never_changes BEFORE UPDATE OF checks_asked ON batch
    FOR EACH ROW EXECUTE FUNCTION columns_never_change('checks_asked');

-- A check-weight that failed is answered before weighing goes on: by one that passes, or by a correction of it. A correction of
-- what was weighed before weighs nothing anew.
CREATE FUNCTION weighing_after_check_weight() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF (SELECT NOT c.passed FROM batch_check c
        WHERE c.batch_id = NEW.batch_id AND c.kind = 'check_weight'
            AND NOT EXISTS (SELECT FROM batch_check n WHERE n.corrects_id = c.id)
        ORDER BY c.number DESC LIMIT 1) THEN
        RAISE EXCEPTION 'the last check-weight of batch % failed', NEW.batch_id
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'weighing_after_check_weight';
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER weighing_after_check_weight BEFORE INSERT ON batch_entry
    FOR EACH ROW WHEN (NEW.kind = 'weighing' AND NEW.corrects_id IS NULL)
    EXECUTE FUNCTION weighing_after_check_weight();

GRANT SELECT, INSERT ON batch_check TO stillroom_service;
