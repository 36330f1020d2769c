-- A jar that is kept as a sample of its batch, to be looked at on its days. It stays one, and is never handed out.
ALTER TABLE jar ADD CONSTRAINT jar_of_batch UNIQUE (id, batch_id);
CREATE TABLE retained_sample (
    jar_id uuid PRIMARY KEY,
    batch_id uuid NOT NULL,
    -- the day on which it is looked at first
    first_on date NOT NULL,
    by_id uuid NOT NULL REFERENCES person (id),
    at timestamptz NOT NULL,
    CONSTRAINT retained_sample_jar FOREIGN KEY (jar_id, batch_id) REFERENCES jar (id, batch_id)
);
CREATE INDEX retained_sample_batch ON retained_sample (batch_id, jar_id);
CREATE INDEX retained_sample_by ON retained_sample (by_id);

CREATE FUNCTION jar_handed_or_kept() RETURNS trigger
    LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    PERFORM FROM public.jar WHERE id = NEW.jar_id FOR NO KEY UPDATE;
    IF EXISTS (SELECT FROM public.retained_sample WHERE jar_id = NEW.jar_id)
        AND EXISTS (SELECT FROM public.jar_handing WHERE jar_id = NEW.jar_id) THEN
        RAISE EXCEPTION 'jar % is a retained sample and would be handed out', NEW.jar_id
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'jar_handed_or_kept';
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER jar_handed_or_kept AFTER INSERT ON retained_sample
    FOR EACH ROW EXECUTE FUNCTION jar_handed_or_kept();
CREATE TRIGGER jar_handed_or_kept AFTER INSERT ON jar_handing
    FOR EACH ROW EXECUTE FUNCTION jar_handed_or_kept();

-- What somebody saw of a batch in one of its jars. Never changed: a correction is a further observation of the same day, with
-- its reason.
CREATE TABLE batch_observation (
    id uuid PRIMARY KEY,
    batch_id uuid NOT NULL,
    jar_id uuid NOT NULL,
    number integer NOT NULL CHECK (number > 0),
    on_day date NOT NULL,
    -- nothing in it: nothing had changed
    seen text[] NOT NULL CONSTRAINT batch_observation_seen
        CHECK (seen <@ ARRAY['separated', 'rancid_smell', 'mould', 'colour_changed', 'smell_changed']),
    note text CHECK (char_length(note) BETWEEN 1 AND 1000),
    -- the day on which the batch is looked at again
    next_on date NOT NULL,
    corrects_id uuid,
    reason text CHECK (char_length(reason) BETWEEN 1 AND 1000),
    by_id uuid NOT NULL REFERENCES person (id),
    at timestamptz NOT NULL,
    CONSTRAINT batch_observation_number UNIQUE (batch_id, number),
    CONSTRAINT batch_observation_of_day UNIQUE (id, batch_id, on_day),
    CONSTRAINT batch_observation_of_batch UNIQUE (id, batch_id),
    CONSTRAINT batch_observation_jar FOREIGN KEY (jar_id, batch_id) REFERENCES jar (id, batch_id),
    -- one correction of an observation; the next corrects the correction
    CONSTRAINT batch_observation_corrected_once UNIQUE (corrects_id),
    CONSTRAINT batch_observation_corrects FOREIGN KEY (corrects_id, batch_id, on_day)
        REFERENCES batch_observation (id, batch_id, on_day),
    CONSTRAINT batch_observation_reason CHECK ((corrects_id IS NULL) = (reason IS NULL)),
    CONSTRAINT batch_observation_other CHECK (corrects_id <> id),
    CONSTRAINT batch_observation_next CHECK (next_on > on_day)
);
CREATE INDEX batch_observation_of_jar ON batch_observation (jar_id, batch_id);
CREATE INDEX batch_observation_correction ON batch_observation (corrects_id, batch_id, on_day);
CREATE INDEX batch_observation_due ON batch_observation (batch_id, next_on);
CREATE INDEX batch_observation_by ON batch_observation (by_id);

-- Nobody sees what was thrown away, or a jar that somebody else holds. What was seen before is corrected all the same.
CREATE FUNCTION observation_of_jar_here() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF NEW.corrects_id IS NULL AND (
        EXISTS (SELECT FROM batch WHERE id = NEW.batch_id AND disposition = 'discarded')
        OR EXISTS (SELECT FROM jar_handing h WHERE h.jar_id = NEW.jar_id
            AND NOT EXISTS (SELECT FROM jar_return r WHERE r.jar_id = h.jar_id))) THEN
        RAISE EXCEPTION 'jar % is not here', NEW.jar_id
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'observation_of_jar_here';
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER observation_of_jar_here BEFORE INSERT ON batch_observation
    FOR EACH ROW EXECUTE FUNCTION observation_of_jar_here();

-- That the last day of a batch was brought forward after an observation. It is never put off again.
CREATE TABLE batch_shortening (
    id uuid PRIMARY KEY,
    batch_id uuid NOT NULL,
    number integer NOT NULL CHECK (number > 0),
    observation_id uuid NOT NULL,
    last_day date NOT NULL,
    on_day date NOT NULL,
    reason text NOT NULL CHECK (char_length(reason) BETWEEN 1 AND 1000),
    by_id uuid NOT NULL REFERENCES person (id),
    at timestamptz NOT NULL,
    CONSTRAINT batch_shortening_number UNIQUE (batch_id, number),
    CONSTRAINT batch_shortening_of_observation FOREIGN KEY (observation_id, batch_id)
        REFERENCES batch_observation (id, batch_id),
    -- the day before is enough for nobody to use it any more
    CONSTRAINT batch_shortening_from_here_on CHECK (last_day >= on_day - 1)
);
CREATE INDEX batch_shortening_observation ON batch_shortening (observation_id, batch_id);
CREATE INDEX batch_shortening_last_day ON batch_shortening (batch_id, last_day);
CREATE INDEX batch_shortening_by ON batch_shortening (by_id);

-- The last day of what a batch made: that of its label as it was kept last, or the earlier one that somebody chose after an
-- observation. Absent where neither is known. What binds jars, handing out and the shelf asks this.
CREATE FUNCTION batch_last_day(of uuid) RETURNS date LANGUAGE sql STABLE AS $$
    SELECT least(
        (SELECT l.use_by FROM public.batch_label l WHERE l.batch_id = $1 ORDER BY l.number DESC LIMIT 1),
        (SELECT min(s.last_day) FROM public.batch_shortening s WHERE s.batch_id = $1))
$$;

CREATE FUNCTION batch_only_shortened() RETURNS trigger
    LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    PERFORM FROM public.batch WHERE id = NEW.batch_id FOR NO KEY UPDATE;
    IF NEW.last_day >= public.batch_last_day(NEW.batch_id) THEN
        RAISE EXCEPTION 'batch % keeps no longer than that already', NEW.batch_id
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'batch_only_shortened';
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER batch_only_shortened BEFORE INSERT ON batch_shortening
    FOR EACH ROW EXECUTE FUNCTION batch_only_shortened();

-- A jar is handed out up to its own last day and that of its batch.
CREATE OR REPLACE FUNCTION jar_handed_released() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    PERFORM FROM jar j JOIN jar_filling f ON f.id = j.filling_id JOIN batch b ON b.id = j.batch_id
        WHERE j.id = NEW.jar_id AND b.disposition = 'released'
            AND least(f.use_by, batch_last_day(b.id)) >= NEW.on_day FOR SHARE OF b;
    IF NOT FOUND THEN
        RAISE EXCEPTION 'jar % is not released, or past its date', NEW.jar_id
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'jar_handed_released';
    END IF;
    RETURN NEW;
END $$;

-- A jar keeps no longer than its batch.
CREATE OR REPLACE FUNCTION jar_of_accepted_batch() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF NOT EXISTS (SELECT FROM batch WHERE id = NEW.batch_id AND state = 'accepted'
            AND disposition IN ('practice_only', 'quarantine', 'released')) THEN
        RAISE EXCEPTION 'batch % is not accepted, or is not to be used', NEW.batch_id
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'jar_of_accepted_batch';
    END IF;
    IF NOT EXISTS (SELECT FROM batch_label WHERE batch_id = NEW.batch_id)
        OR NOT coalesce(NEW.use_by <= batch_last_day(NEW.batch_id),
            NEW.use_by IS NULL AND batch_last_day(NEW.batch_id) IS NULL) THEN
        RAISE EXCEPTION 'the jars of batch % would keep longer than its label says', NEW.batch_id
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'jar_keeps_no_longer';
    END IF;
    RETURN NEW;
END $$;

GRANT SELECT, INSERT ON retained_sample, batch_observation, batch_shortening TO stillroom_service;
