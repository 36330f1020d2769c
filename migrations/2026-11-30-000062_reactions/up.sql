-- Suspected adverse reactions to what the clinic made. A report opens a case, several reports can stand in one, and nothing
-- anywhere asks or holds to whom it happened.
CREATE TABLE reaction_counter (
    year integer PRIMARY KEY CHECK (year BETWEEN 2000 AND 9999),
    last integer NOT NULL CHECK (last > 0)
);

-- A case is worked on until it is closed with a conclusion or joined to another. It never opens again.
CREATE TABLE reaction_case (
    id uuid PRIMARY KEY,
    number text NOT NULL CONSTRAINT reaction_case_number UNIQUE,
    state text NOT NULL CHECK (state IN ('open', 'joined', 'closed')),
    version bigint NOT NULL,
    opened_at timestamptz NOT NULL,
    -- the case that its reports stand in now
    joined_id uuid REFERENCES reaction_case (id),
    -- how likely it is that the product was the cause
    causality text CHECK (causality IN ('certain', 'probable', 'possible', 'unlikely', 'conditional', 'unassessable')),
    conclusion text CHECK (char_length(conclusion) BETWEEN 1 AND 2000),
    ended_by uuid REFERENCES person (id),
    ended_at timestamptz,
    CONSTRAINT reaction_case_ended CHECK ((state = 'open') = (ended_at IS NULL)
        AND (ended_at IS NULL) = (ended_by IS NULL) AND (state = 'joined') = (joined_id IS NOT NULL)
        AND (state = 'closed') = (conclusion IS NOT NULL) AND (conclusion IS NULL) = (causality IS NULL)),
    CONSTRAINT reaction_case_joins_another CHECK (joined_id <> id)
);
CREATE INDEX reaction_case_joined ON reaction_case (joined_id);
CREATE INDEX reaction_case_ended_by ON reaction_case (ended_by);
CREATE INDEX reaction_case_state ON reaction_case (state, id);

-- What was told of a jar, in words that can be counted; the words themselves stand in a table of their own.
CREATE TABLE reaction_report (
    id uuid PRIMARY KEY,
    case_id uuid NOT NULL REFERENCES reaction_case (id),
    jar_id uuid NOT NULL REFERENCES jar (id),
    -- what whoever told it can name when they talk to the clinic: 40 random bits
    reference text NOT NULL CONSTRAINT reaction_report_reference UNIQUE
        CHECK (reference ~ '^[0-9abcdefghjkmnpqrstvwxyz]{8}$'),
    told text NOT NULL CHECK (told IN ('on_the_page', 'at_the_clinic')),
    by_id uuid REFERENCES person (id),
    -- the digest of the form's own random key, so that a form that is sent twice is one report
    form bytea CONSTRAINT reaction_report_form UNIQUE CHECK (octet_length(form) = 32),
    began_on date,
    outcome text NOT NULL CHECK (outcome IN ('recovered', 'recovering', 'not_recovered', 'recovered_with_sequelae',
        'fatal', 'unknown')),
    serious text[] NOT NULL CONSTRAINT reaction_report_serious CHECK (serious <@ ARRAY['death', 'life_threatening',
        'hospitalisation', 'disability', 'congenital_anomaly', 'other_important']),
    at timestamptz NOT NULL,
    -- a report from the page of a jar is nobody's
    CONSTRAINT reaction_report_told CHECK ((told = 'at_the_clinic') = (by_id IS NOT NULL)
        AND (told = 'on_the_page') = (form IS NOT NULL)),
    CONSTRAINT reaction_report_fatal CHECK (outcome <> 'fatal' OR 'death' = ANY (serious))
);
CREATE INDEX reaction_report_case ON reaction_report (case_id);
CREATE INDEX reaction_report_jar ON reaction_report (jar_id, at);
CREATE INDEX reaction_report_by ON reaction_report (by_id);

-- The words of a report. They can be removed, since somebody may have written a name into them; the journal vouches for the
-- report and not for these.
CREATE TABLE reaction_words (
    report_id uuid PRIMARY KEY REFERENCES reaction_report (id),
    text text NOT NULL CHECK (char_length(text) BETWEEN 1 AND 2000)
);

-- What was found out about a case.
CREATE TABLE reaction_note (
    id uuid PRIMARY KEY,
    case_id uuid NOT NULL REFERENCES reaction_case (id),
    number integer NOT NULL CHECK (number > 0),
    text text NOT NULL CHECK (char_length(text) BETWEEN 1 AND 2000),
    by_id uuid NOT NULL REFERENCES person (id),
    at timestamptz NOT NULL,
    CONSTRAINT reaction_note_once UNIQUE (case_id, number)
);
CREATE INDEX reaction_note_by ON reaction_note (by_id);

-- Reports and notes go into open cases only.
CREATE FUNCTION reaction_in_open_case() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    PERFORM FROM reaction_case WHERE id = NEW.case_id AND state = 'open' FOR SHARE;
    IF NOT FOUND THEN
        RAISE EXCEPTION 'case % has ended', NEW.case_id
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'reaction_in_open_case';
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER reaction_in_open_case BEFORE INSERT OR UPDATE OF case_id ON reaction_report
    FOR EACH ROW EXECUTE FUNCTION reaction_in_open_case();
CREATE TRIGGER reaction_note_in_open_case BEFORE INSERT ON reaction_note
    FOR EACH ROW EXECUTE FUNCTION reaction_in_open_case();

-- A report stands in another case only after its own was joined to that one.
CREATE FUNCTION reaction_report_follows() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF NOT EXISTS (SELECT FROM reaction_case WHERE id = OLD.case_id AND joined_id = NEW.case_id) THEN
        RAISE EXCEPTION 'case % was not joined to %', OLD.case_id, NEW.case_id
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'reaction_report_follows';
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER reaction_report_follows BEFORE UPDATE OF case_id ON reaction_report
    FOR EACH ROW EXECUTE FUNCTION reaction_report_follows();

-- What ended stays ended, but that a joined case goes along when the one that it was joined to is joined itself. A case is
-- joined to an open one.
CREATE FUNCTION reaction_case_stays_ended() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF OLD.state <> 'open' AND NOT (OLD.state = 'joined' AND NEW.state = 'joined'
            AND EXISTS (SELECT FROM reaction_case t WHERE t.id = OLD.joined_id AND t.joined_id = NEW.joined_id)) THEN
        RAISE EXCEPTION 'case % has ended', OLD.id
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'reaction_case_stays_ended';
    END IF;
    IF NEW.state = 'joined' AND NOT EXISTS (SELECT FROM reaction_case t WHERE t.id = NEW.joined_id AND t.state = 'open') THEN
        RAISE EXCEPTION 'case % is not open', NEW.joined_id
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'reaction_case_joins_open';
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER reaction_case_stays_ended BEFORE UPDATE ON reaction_case
    FOR EACH ROW EXECUTE FUNCTION reaction_case_stays_ended();

-- Whoever holds one jar cannot bury the others: ten reports a day from its page, counted one after the other.
CREATE FUNCTION reaction_report_bounded() RETURNS trigger
    LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    IF NEW.told <> 'on_the_page' THEN
        RETURN NEW;
    END IF;
    PERFORM FROM public.jar WHERE id = NEW.jar_id FOR NO KEY UPDATE;
    IF (SELECT count(*) FROM public.reaction_report p WHERE p.jar_id = NEW.jar_id AND p.told = 'on_the_page'
            AND p.at > NEW.at - interval '1 day') >= 10 THEN
        RAISE EXCEPTION 'ten reports about jar % came within a day', NEW.jar_id
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'reaction_report_bounded';
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER reaction_report_bounded BEFORE INSERT ON reaction_report
    FOR EACH ROW EXECUTE FUNCTION reaction_report_bounded();

GRANT SELECT, INSERT ON reaction_counter, reaction_case, reaction_report, reaction_note TO stillroom_service;
GRANT SELECT, INSERT, DELETE ON reaction_words TO stillroom_service;
GRANT UPDATE (last) ON reaction_counter TO stillroom_service;
GRANT UPDATE (state, version, joined_id, causality, conclusion, ended_by, ended_at) ON reaction_case TO stillroom_service;
GRANT UPDATE (case_id) ON reaction_report TO stillroom_service;
