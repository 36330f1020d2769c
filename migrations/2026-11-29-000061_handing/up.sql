-- A jar that was handed out: once, released and in date, to a reference of the clinic's own and never to a name. That it was
-- asked whether it suits stands there; the answer is nowhere.
CREATE TABLE jar_handing (
    id uuid PRIMARY KEY,
    jar_id uuid NOT NULL CONSTRAINT jar_handed_once UNIQUE REFERENCES jar (id),
    reference text NOT NULL CONSTRAINT jar_handing_reference
        CHECK (reference ~ '^[A-Z0-9][A-Z0-9/-]{2,23}$' AND reference ~ '[0-9]'),
    on_day date NOT NULL,
    suitability_asked boolean NOT NULL CONSTRAINT jar_handing_asked CHECK (suitability_asked),
    cautions_told boolean NOT NULL CONSTRAINT jar_handing_told CHECK (cautions_told),
    opening_told boolean NOT NULL CONSTRAINT jar_handing_opening CHECK (opening_told),
    by_id uuid NOT NULL REFERENCES person (id),
    at timestamptz NOT NULL
);
CREATE INDEX jar_handing_by ON jar_handing (by_id);

-- A jar that came back. It is never handed out again, full or not.
CREATE TABLE jar_return (
    jar_id uuid PRIMARY KEY REFERENCES jar_handing (jar_id),
    note text CHECK (char_length(note) BETWEEN 1 AND 1000),
    by_id uuid NOT NULL REFERENCES person (id),
    at timestamptz NOT NULL
);
CREATE INDEX jar_return_by ON jar_return (by_id);

CREATE FUNCTION jar_handed_released() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    PERFORM FROM jar j JOIN jar_filling f ON f.id = j.filling_id JOIN batch b ON b.id = j.batch_id
        WHERE j.id = NEW.jar_id AND b.disposition = 'released' AND f.use_by >= NEW.on_day FOR SHARE OF b;
    IF NOT FOUND THEN
        RAISE EXCEPTION 'jar % is not released, or past its date', NEW.jar_id
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'jar_handed_released';
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER jar_handed_released BEFORE INSERT ON jar_handing
    FOR EACH ROW EXECUTE FUNCTION jar_handed_released();

-- What came of a jar that a recall reached. The last one counts; those before it stay.
CREATE TABLE recall_jar_outcome (
    id uuid PRIMARY KEY,
    recall_id uuid NOT NULL,
    item integer NOT NULL,
    jar_id uuid NOT NULL REFERENCES jar (id),
    number integer NOT NULL CHECK (number > 0),
    outcome text NOT NULL CHECK (outcome IN ('returned', 'destroyed', 'not_found')),
    note text CHECK (char_length(note) BETWEEN 1 AND 1000),
    by_id uuid NOT NULL REFERENCES person (id),
    at timestamptz NOT NULL,
    CONSTRAINT recall_jar_outcome_once UNIQUE (recall_id, jar_id, number),
    CONSTRAINT recall_jar_outcome_says_where CHECK (outcome <> 'not_found' OR note IS NOT NULL),
    FOREIGN KEY (recall_id, item) REFERENCES recall_item (recall_id, number)
);
CREATE INDEX recall_jar_outcome_item ON recall_jar_outcome (recall_id, item);
CREATE INDEX recall_jar_outcome_jar ON recall_jar_outcome (jar_id);
CREATE INDEX recall_jar_outcome_by ON recall_jar_outcome (by_id);

CREATE FUNCTION recall_jar_of_item() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    PERFORM FROM recall WHERE id = NEW.recall_id AND state = 'open' FOR SHARE;
    IF NOT FOUND OR NOT EXISTS (SELECT FROM recall_item i JOIN jar j ON j.batch_id = i.batch_id
            WHERE i.recall_id = NEW.recall_id AND i.number = NEW.item AND j.id = NEW.jar_id) THEN
        RAISE EXCEPTION 'recall % is closed, or did not reach jar %', NEW.recall_id, NEW.jar_id
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'recall_jar_of_item';
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER recall_jar_of_item BEFORE INSERT ON recall_jar_outcome
    FOR EACH ROW EXECUTE FUNCTION recall_jar_of_item();

-- None is closed over a lot, a batch or a jar that is not accounted for, unless somebody says why.
CREATE FUNCTION recall_unaccounted(of uuid) RETURNS bigint LANGUAGE sql STABLE AS $$
    SELECT (SELECT count(*) FROM recall_item i WHERE i.recall_id = $1 AND NOT EXISTS (
            SELECT FROM recall_outcome o WHERE o.recall_id = i.recall_id AND o.item = i.number))
        + (SELECT count(*) FROM recall_item i JOIN jar j ON j.batch_id = i.batch_id
            WHERE i.recall_id = $1 AND NOT EXISTS (
                SELECT FROM recall_jar_outcome o WHERE o.recall_id = i.recall_id AND o.jar_id = j.id))
$$;
CREATE OR REPLACE FUNCTION recall_closes_accounted() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF OLD.state = 'closed' THEN
        RAISE EXCEPTION 'recall % is closed', OLD.id
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'recall_stays_closed';
    END IF;
    IF NEW.state = 'closed' AND NEW.closed_because IS NULL AND recall_unaccounted(NEW.id) > 0 THEN
        RAISE EXCEPTION 'recall % has items that are not accounted for', NEW.id
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'recall_closes_accounted';
    END IF;
    RETURN NEW;
END $$;

GRANT SELECT, INSERT ON jar_handing, jar_return, recall_jar_outcome TO stillroom_service;
