-- What was decided about what a batch made: released, discarded, recalled. A decision stays; the last one says how it stands.
CREATE TABLE batch_decision (
    id uuid PRIMARY KEY,
    batch_id uuid NOT NULL,
    maker_id uuid NOT NULL,
    number integer NOT NULL CHECK (number > 0),
    decision text NOT NULL CHECK (decision IN ('released', 'discarded', 'recalled')),
    reason text CHECK (char_length(reason) BETWEEN 1 AND 1000),
    -- whether its maker released it
    own_decision boolean NOT NULL,
    by_id uuid NOT NULL REFERENCES person (id),
    at timestamptz NOT NULL,
    CONSTRAINT batch_decision_once UNIQUE (batch_id, number),
    CONSTRAINT batch_decision_of_maker FOREIGN KEY (batch_id, maker_id) REFERENCES batch (id, maker_id),
    -- nobody releases what they made, but where the policy has no second person; then it says so, and why
    CONSTRAINT batch_decision_own CHECK (own_decision = (decision = 'released' AND by_id = maker_id)),
    CONSTRAINT batch_decision_says_why CHECK (reason IS NOT NULL OR (decision = 'released' AND NOT own_decision))
);
CREATE INDEX batch_decision_maker ON batch_decision (batch_id, maker_id);
CREATE INDEX batch_decision_by ON batch_decision (by_id);

-- The cautions of the label that were confirmed one by one at a release, as they were read.
CREATE TABLE batch_decision_caution (
    decision_id uuid NOT NULL REFERENCES batch_decision (id),
    number integer NOT NULL CHECK (number > 0),
    caution text NOT NULL,
    text_version integer NOT NULL,
    level text NOT NULL CHECK (level IN ('note', 'caution', 'contraindication')),
    text text NOT NULL,
    PRIMARY KEY (decision_id, number)
);

-- What stands on the label of a batch, without an amount, as it was when its jars were filled and when it was released. The
-- last one is shown to whoever holds a jar.
CREATE TABLE batch_label (
    id uuid PRIMARY KEY,
    batch_id uuid NOT NULL REFERENCES batch (id),
    number integer NOT NULL CHECK (number > 0),
    facts text NOT NULL,
    -- the last day; absent where no rule dates it
    use_by date,
    by_id uuid NOT NULL REFERENCES person (id),
    at timestamptz NOT NULL,
    CONSTRAINT batch_label_once UNIQUE (batch_id, number)
);
CREATE INDEX batch_label_by ON batch_label (by_id);

-- Jars that were filled alike, in one go.
CREATE TABLE jar_filling (
    id uuid PRIMARY KEY,
    batch_id uuid NOT NULL REFERENCES batch (id),
    number integer NOT NULL CHECK (number > 0),
    jars integer NOT NULL CHECK (jars BETWEEN 1 AND 500),
    -- of each jar, as typed, and its mass in g
    fill text NOT NULL CHECK (char_length(fill) BETWEEN 1 AND 40),
    grams numeric NOT NULL CHECK (grams > 0),
    -- the measured density by which a volume became a mass, as typed
    density text CHECK (char_length(density) BETWEEN 1 AND 40),
    use_by date,
    by_id uuid NOT NULL REFERENCES person (id),
    at timestamptz NOT NULL,
    CONSTRAINT jar_filling_once UNIQUE (batch_id, number),
    CONSTRAINT jar_filling_of_batch UNIQUE (id, batch_id)
);
CREATE INDEX jar_filling_by ON jar_filling (by_id);

-- A jar: numbered within its batch, and found by whoever holds it under a random name of 128 bits.
CREATE TABLE jar (
    id uuid PRIMARY KEY,
    batch_id uuid NOT NULL REFERENCES batch (id),
    filling_id uuid NOT NULL,
    number integer NOT NULL CHECK (number BETWEEN 1 AND 1000),
    token text NOT NULL CONSTRAINT jar_token UNIQUE
        CONSTRAINT jar_token_form CHECK (token ~ '^[0-9abcdefghjkmnpqrstvwxyz]{26}$'),
    CONSTRAINT jar_number UNIQUE (batch_id, number),
    CONSTRAINT jar_of_filling FOREIGN KEY (filling_id, batch_id) REFERENCES jar_filling (id, batch_id)
);
CREATE INDEX jar_filled ON jar (filling_id, batch_id);

-- What is left of a batch's yield, in g, to be filled or put on the shelf: less what was lost or kept as a sample after the
-- yield was weighed, the jars, and the lots. Absent where no yield is recorded. Only triggers ask it.
CREATE FUNCTION batch_left(of uuid) RETURNS numeric
    LANGUAGE sql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    SELECT y.grams
        - coalesce((SELECT sum(e.grams) FROM public.batch_entry e
            WHERE e.batch_id = $1 AND e.number > y.number AND e.kind IN ('transfer_loss', 'spill_loss', 'sample')
                AND NOT EXISTS (SELECT FROM public.batch_entry c WHERE c.corrects_id = e.id)), 0)
        - coalesce((SELECT sum(f.jars * f.grams) FROM public.jar_filling f WHERE f.batch_id = $1), 0)
        - coalesce((SELECT sum(m.grams) FROM public.lot l JOIN public.lot_movement m ON m.lot_id = l.id
            WHERE l.batch_id = $1 AND m.kind = 'received'), 0)
    FROM public.batch_entry y
    WHERE y.batch_id = $1 AND y.kind = 'yield'
        AND NOT EXISTS (SELECT FROM public.batch_entry c WHERE c.corrects_id = y.id)
    ORDER BY y.number DESC LIMIT 1
$$;
REVOKE EXECUTE ON FUNCTION batch_left(uuid) FROM PUBLIC;

-- All lots and jars of a batch together hold no more than is there.
CREATE OR REPLACE FUNCTION lot_made_no_more() RETURNS trigger
    LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    of uuid;
    left_over numeric;
BEGIN
    SELECT batch_id INTO of FROM public.lot WHERE id = NEW.lot_id;
    IF of IS NULL THEN
        RETURN NEW;
    END IF;
    PERFORM FROM public.batch WHERE id = of FOR NO KEY UPDATE;
    left_over := public.batch_left(of);
    IF left_over IS NULL OR left_over < 0 THEN
        RAISE EXCEPTION 'the lots of batch % would hold more than it yielded', of
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'lot_made_no_more';
    END IF;
    RETURN NEW;
END $$;
CREATE FUNCTION jar_no_more() RETURNS trigger
    LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    left_over numeric;
BEGIN
    PERFORM FROM public.batch WHERE id = NEW.batch_id FOR NO KEY UPDATE;
    left_over := public.batch_left(NEW.batch_id);
    IF left_over IS NULL OR left_over < 0 THEN
        RAISE EXCEPTION 'the jars of batch % would hold more than it yielded', NEW.batch_id
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'jar_no_more';
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER jar_no_more AFTER INSERT ON jar_filling FOR EACH ROW EXECUTE FUNCTION jar_no_more();

-- Only an accepted record tells what is in a jar, and no jar is filled from what must not be used. A jar keeps no longer than
-- the label of its batch says.
CREATE FUNCTION jar_of_accepted_batch() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF NOT EXISTS (SELECT FROM batch WHERE id = NEW.batch_id AND state = 'accepted'
            AND disposition IN ('practice_only', 'quarantine', 'released')) THEN
        RAISE EXCEPTION 'batch % is not accepted, or is not to be used', NEW.batch_id
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'jar_of_accepted_batch';
    END IF;
    IF NOT coalesce((SELECT CASE WHEN l.use_by IS NULL THEN NEW.use_by IS NULL ELSE NEW.use_by <= l.use_by END
            FROM batch_label l WHERE l.batch_id = NEW.batch_id ORDER BY l.number DESC LIMIT 1), false) THEN
        RAISE EXCEPTION 'the jars of batch % would keep longer than its label says', NEW.batch_id
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'jar_keeps_no_longer';
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER jar_of_accepted_batch BEFORE INSERT ON jar_filling
    FOR EACH ROW EXECUTE FUNCTION jar_of_accepted_batch();

-- What may be decided: released is what an accepted record made, out of quarantine, with every hold signed and a date on its
-- label that has not passed when it was written.
CREATE FUNCTION batch_decision_follows() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE
    stands record;
BEGIN
    SELECT state, disposition INTO stands FROM batch WHERE id = NEW.batch_id;
    IF NOT (CASE NEW.decision
        WHEN 'released' THEN stands.disposition = 'quarantine'
        WHEN 'recalled' THEN stands.disposition IN ('practice_only', 'quarantine', 'released')
        ELSE stands.disposition IN ('practice_only', 'quarantine', 'released', 'recalled') END) THEN
        RAISE EXCEPTION 'batch % is % and cannot be %', NEW.batch_id, stands.disposition, NEW.decision
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'batch_decision_follows';
    END IF;
    IF NEW.decision = 'released' AND (stands.state <> 'accepted' OR batch_hold_waits(NEW.batch_id)
        OR NOT coalesce((SELECT l.use_by IS NOT NULL FROM batch_label l WHERE l.batch_id = NEW.batch_id
            ORDER BY l.number DESC LIMIT 1), false)) THEN
        RAISE EXCEPTION 'batch % cannot be released', NEW.batch_id
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'batch_released_checked';
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER batch_decision_follows BEFORE INSERT ON batch_decision
    FOR EACH ROW EXECUTE FUNCTION batch_decision_follows();

-- Nothing but a decision changes how what was made stands.
CREATE FUNCTION batch_was_decided() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF NEW.disposition IS DISTINCT FROM (SELECT d.decision FROM batch_decision d WHERE d.batch_id = NEW.id
            ORDER BY d.number DESC LIMIT 1) THEN
        RAISE EXCEPTION 'nobody has decided that batch % is %', NEW.id, NEW.disposition
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'batch_was_decided';
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER batch_was_decided BEFORE UPDATE OF disposition ON batch
    FOR EACH ROW WHEN (NEW.disposition IS DISTINCT FROM OLD.disposition) EXECUTE FUNCTION batch_was_decided();

GRANT SELECT, INSERT ON batch_decision, batch_decision_caution, batch_label, jar_filling, jar TO stillroom_service;
