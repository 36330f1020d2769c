-- A batch that is left for a while: to macerate, to dry, or because its maker was interrupted. What was paused stays written,
-- and so does that it was taken up again.
CREATE TABLE batch_pause (
    id uuid PRIMARY KEY,
    batch_id uuid NOT NULL,
    number integer NOT NULL CHECK (number > 0),
    why text NOT NULL CHECK (why IN ('macerating', 'solar_infusing', 'drying', 'settling', 'interrupted')),
    note text CHECK (char_length(note) BETWEEN 1 AND 1000),
    on_day date NOT NULL,
    -- the day on which it is to be taken up again
    until_day date NOT NULL,
    by_id uuid NOT NULL REFERENCES person (id),
    at timestamptz NOT NULL,
    CONSTRAINT batch_pause_number UNIQUE (batch_id, number),
    CONSTRAINT batch_pause_of_batch UNIQUE (id, batch_id),
    -- only the maker writes
    CONSTRAINT batch_pause_by_maker FOREIGN KEY (batch_id, by_id) REFERENCES batch (id, maker_id),
    CONSTRAINT batch_pause_until CHECK (until_day BETWEEN on_day AND on_day + 366),
    CONSTRAINT batch_pause_says_why CHECK (why <> 'interrupted' OR note IS NOT NULL)
);
CREATE INDEX batch_pause_maker ON batch_pause (batch_id, by_id);
CREATE INDEX batch_pause_by ON batch_pause (by_id);

-- That a batch was taken up again, once for each pause.
CREATE TABLE batch_resumption (
    pause_id uuid PRIMARY KEY,
    batch_id uuid NOT NULL,
    by_id uuid NOT NULL REFERENCES person (id),
    at timestamptz NOT NULL,
    CONSTRAINT batch_resumption_of_pause FOREIGN KEY (pause_id, batch_id) REFERENCES batch_pause (id, batch_id),
    CONSTRAINT batch_resumption_by_maker FOREIGN KEY (batch_id, by_id) REFERENCES batch (id, maker_id)
);
CREATE INDEX batch_resumption_batch ON batch_resumption (pause_id, batch_id);
CREATE INDEX batch_resumption_maker ON batch_resumption (batch_id, by_id);
CREATE INDEX batch_resumption_by ON batch_resumption (by_id);

-- Until when a batch is paused; absent where it is not.
CREATE FUNCTION batch_paused_until(batch uuid) RETURNS date LANGUAGE sql STABLE AS $$
    SELECT p.until_day FROM public.batch_pause p
    WHERE p.batch_id = $1 AND NOT EXISTS (SELECT FROM public.batch_resumption r WHERE r.pause_id = p.id)
$$;

-- Only what is being made is paused, and nothing twice at once.
CREATE FUNCTION pause_of_making() RETURNS trigger
    LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    PERFORM FROM public.batch WHERE id = NEW.batch_id AND state = 'making' FOR NO KEY UPDATE;
    IF NOT FOUND OR public.batch_paused_until(NEW.batch_id) IS NOT NULL THEN
        RAISE EXCEPTION 'batch % is not being made, or is paused', NEW.batch_id
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'pause_of_making';
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER pause_of_making BEFORE INSERT ON batch_pause
    FOR EACH ROW EXECUTE FUNCTION pause_of_making();

-- While it is paused, what is seen of it and what went otherwise is written, and corrections are. Nothing goes on.
CREATE FUNCTION entry_while_paused() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF batch_paused_until(NEW.batch_id) IS NOT NULL THEN
        RAISE EXCEPTION 'batch % is paused', NEW.batch_id
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'entry_while_paused';
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER entry_while_paused BEFORE INSERT ON batch_entry
    FOR EACH ROW WHEN (NEW.corrects_id IS NULL
        AND NEW.kind NOT IN ('observation', 'appearance', 'smell', 'separation', 'deviation'))
    EXECUTE FUNCTION entry_while_paused();

CREATE FUNCTION submitted_while_paused() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF batch_paused_until(NEW.id) IS NOT NULL THEN
        RAISE EXCEPTION 'batch % is paused', NEW.id
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'submitted_while_paused';
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER submitted_while_paused BEFORE UPDATE OF state ON batch
    FOR EACH ROW WHEN (NEW.state = 'submitted') EXECUTE FUNCTION submitted_while_paused();

-- What is looked at, and how often, while a batch is being made. The last plan of a batch binds; one without days ends it.
CREATE TABLE batch_look_plan (
    id uuid PRIMARY KEY,
    batch_id uuid NOT NULL,
    number integer NOT NULL CHECK (number > 0),
    what text[] NOT NULL CONSTRAINT batch_look_plan_what
        CHECK (what <@ ARRAY['shake', 'appearance', 'moisture', 'smell', 'mould']),
    on_day date NOT NULL,
    every_days integer CHECK (every_days BETWEEN 1 AND 31),
    until_day date,
    by_id uuid NOT NULL REFERENCES person (id),
    at timestamptz NOT NULL,
    CONSTRAINT batch_look_plan_number UNIQUE (batch_id, number),
    CONSTRAINT batch_look_plan_by_maker FOREIGN KEY (batch_id, by_id) REFERENCES batch (id, maker_id),
    CONSTRAINT batch_look_plan_whole CHECK ((every_days IS NULL) = (until_day IS NULL)
        AND (every_days IS NULL) = (cardinality(what) = 0)),
    CONSTRAINT batch_look_plan_until CHECK (until_day BETWEEN on_day + every_days AND on_day + 366)
);
CREATE INDEX batch_look_plan_maker ON batch_look_plan (batch_id, by_id);
CREATE INDEX batch_look_plan_by ON batch_look_plan (by_id);

CREATE FUNCTION look_plan_of_making() RETURNS trigger
    LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    PERFORM FROM public.batch WHERE id = NEW.batch_id AND state = 'making' FOR NO KEY UPDATE;
    IF NOT FOUND THEN
        RAISE EXCEPTION 'batch % is not being made', NEW.batch_id
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'look_plan_of_making';
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER look_plan_of_making BEFORE INSERT ON batch_look_plan
    FOR EACH ROW EXECUTE FUNCTION look_plan_of_making();

-- The day on which a batch is looked at next, by its plan and by the last entry that tells what was seen of it; absent where
-- no day follows. A correction tells nothing new. Days are those of the time zone.
CREATE FUNCTION batch_look_on(batch uuid, zone text) RETURNS date LANGUAGE sql STABLE AS $$
    SELECT next.on_day FROM (
        SELECT p.until_day, p.every_days + greatest(p.on_day, (
            SELECT max((e.at AT TIME ZONE $2)::date) FROM batch_entry e
            WHERE e.batch_id = $1 AND e.corrects_id IS NULL
                AND e.kind IN ('observation', 'appearance', 'smell', 'separation'))) AS on_day
        FROM batch_look_plan p WHERE p.batch_id = $1 ORDER BY p.number DESC LIMIT 1) next
    WHERE next.on_day <= next.until_day
$$;

GRANT SELECT, INSERT ON batch_pause, batch_resumption, batch_look_plan TO stillroom_service;
