-- Which share of a cohort's marks a second marker gives too, in per cent. The last one counts; none is 0.
CREATE TABLE moderation_share (
    cohort_id uuid NOT NULL REFERENCES cohort (id),
    number integer NOT NULL CHECK (number > 0),
    percent smallint NOT NULL CHECK (percent BETWEEN 0 AND 100),
    set_by uuid NOT NULL REFERENCES person (id),
    at timestamptz NOT NULL,
    PRIMARY KEY (cohort_id, number)
);
CREATE INDEX moderation_share_set_by ON moderation_share (set_by);

-- A mark that was drawn, and who gives the second one. Nobody does while nobody of the cohort can; a trigger says when the
-- second mark came.
CREATE TABLE moderation (
    id uuid PRIMARY KEY,
    handed_id uuid NOT NULL REFERENCES handed_work (id),
    assignment_id uuid NOT NULL REFERENCES assignment (id),
    mark_id uuid NOT NULL REFERENCES work_mark (id),
    percent smallint NOT NULL CHECK (percent BETWEEN 1 AND 100),
    second_id uuid REFERENCES person (id),
    drawn_at timestamptz NOT NULL,
    second_at timestamptz,
    CONSTRAINT moderation_once UNIQUE (handed_id),
    CONSTRAINT moderation_second CHECK (second_at IS NULL OR second_id IS NOT NULL)
);
CREATE INDEX moderation_mark ON moderation (mark_id);
CREATE INDEX moderation_assignment ON moderation (assignment_id, id);
CREATE INDEX moderation_second_waits ON moderation (second_id, assignment_id, id) WHERE second_at IS NULL;
CREATE INDEX moderation_second_id ON moderation (second_id);

CREATE TABLE second_mark (
    moderation_id uuid PRIMARY KEY REFERENCES moderation (id),
    marker_id uuid NOT NULL REFERENCES person (id),
    at timestamptz NOT NULL
);
CREATE INDEX second_mark_marker ON second_mark (marker_id);

-- Levels and no text: what is written about amounts stands behind the gate.
CREATE TABLE second_mark_criterion (
    moderation_id uuid NOT NULL REFERENCES second_mark (moderation_id),
    position smallint NOT NULL CHECK (position > 0),
    level smallint CHECK (level > 0),
    points integer CHECK (points >= 0),
    met boolean,
    PRIMARY KEY (moderation_id, position),
    CONSTRAINT second_mark_criterion_decided
        CHECK ((level IS NULL) = (met IS NOT NULL) AND (level IS NULL) = (points IS NULL))
);

-- What came of the two marks, once. Both stay; where the levels change, a third mark counts.
CREATE TABLE moderation_settlement (
    moderation_id uuid PRIMARY KEY REFERENCES second_mark (moderation_id),
    outcome text NOT NULL CHECK (outcome IN ('agreed', 'first_stands', 'second_taken', 'decided')),
    settled_by uuid NOT NULL REFERENCES person (id),
    -- the mark that it gave
    mark_id uuid REFERENCES work_mark (id),
    at timestamptz NOT NULL,
    CONSTRAINT moderation_settlement_mark CHECK (outcome IN ('second_taken', 'decided') OR mark_id IS NULL)
);
CREATE INDEX moderation_settlement_by ON moderation_settlement (settled_by);
CREATE INDEX moderation_settlement_mark ON moderation_settlement (mark_id);

-- What is drawn is the first mark of the work.
CREATE FUNCTION moderation_is_of_first_mark() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    PERFORM FROM work_mark k JOIN handed_work h ON h.id = k.handed_id
        WHERE k.id = NEW.mark_id AND k.handed_id = NEW.handed_id AND k.number = 1 AND h.assignment_id = NEW.assignment_id;
    IF NOT FOUND THEN
        RAISE EXCEPTION 'mark % is not the first of work %', NEW.mark_id, NEW.handed_id
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'moderation_is_of_first_mark';
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER moderation_is_of_first_mark BEFORE INSERT ON moderation
    FOR EACH ROW EXECUTE FUNCTION moderation_is_of_first_mark();

-- The second marker is neither the student nor related to them, and marked no version of the work. After the second mark
-- nobody takes their place.
CREATE FUNCTION second_marker_is_another() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE
    of_work uuid;
    student uuid;
BEGIN
    IF TG_OP = 'UPDATE' AND OLD.second_at IS NOT NULL THEN
        RAISE EXCEPTION 'moderation % has its second mark', NEW.id
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'second_marker_stays';
    END IF;
    SELECT w.id, w.person_id INTO STRICT of_work, student FROM handed_work h JOIN assignment_work w ON w.id = h.work_id
        WHERE h.id = NEW.handed_id;
    IF student = NEW.second_id
        OR EXISTS (SELECT FROM declared_relation r WHERE r.staff_id = NEW.second_id AND r.student_id = student)
        OR EXISTS (SELECT FROM work_mark k JOIN handed_work h ON h.id = k.handed_id
            WHERE h.work_id = of_work AND k.marker_id = NEW.second_id) THEN
        RAISE EXCEPTION '% may not give the second mark of work %', NEW.second_id, NEW.handed_id
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'second_marker_is_another';
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER second_marker_is_another BEFORE INSERT OR UPDATE OF second_id ON moderation
    FOR EACH ROW EXECUTE FUNCTION second_marker_is_another();

-- Whoever was drawn gives the second mark, unless they declared a relation meanwhile. It ends the waiting.
CREATE FUNCTION second_mark_is_drawn() RETURNS trigger
    LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    UPDATE public.moderation m SET second_at = NEW.at
        WHERE m.id = NEW.moderation_id AND m.second_id = NEW.marker_id AND m.second_at IS NULL AND NOT EXISTS (
            SELECT FROM public.handed_work h JOIN public.assignment_work w ON w.id = h.work_id
            JOIN public.declared_relation r ON r.student_id = w.person_id AND r.staff_id = NEW.marker_id
            WHERE h.id = m.handed_id);
    IF NOT FOUND THEN
        RAISE EXCEPTION '% does not give the second mark of %', NEW.marker_id, NEW.moderation_id
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'second_mark_is_drawn';
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER second_mark_is_drawn BEFORE INSERT ON second_mark
    FOR EACH ROW EXECUTE FUNCTION second_mark_is_drawn();

-- A decision is one that the rubric of the work's own version has, with its points.
CREATE FUNCTION second_mark_follows_rubric() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE
    criterion jsonb;
BEGIN
    SELECT v.rubric -> 'criteria' -> (NEW.position - 1) INTO criterion
        FROM moderation m JOIN handed_work h ON h.id = m.handed_id
        JOIN assignment_version v ON v.assignment_id = h.assignment_id AND v.number = h.version_number
        WHERE m.id = NEW.moderation_id;
    IF criterion IS NULL
        OR (NEW.level IS NULL) <> (criterion ->> 'must_pass')::boolean
        OR (NEW.level IS NOT NULL
            AND (criterion -> 'levels' -> (NEW.level - 1) ->> 'points')::integer IS DISTINCT FROM NEW.points) THEN
        RAISE EXCEPTION 'criterion % of the second mark of % is none of the rubric', NEW.position, NEW.moderation_id
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'second_mark_follows_rubric';
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER second_mark_follows_rubric BEFORE INSERT ON second_mark_criterion
    FOR EACH ROW EXECUTE FUNCTION second_mark_follows_rubric();

-- Neither of the two markers carries their own mark through alone: each can only give way. Another decides freely. Marks
-- that are alike need nobody.
CREATE FUNCTION moderation_is_settled_fairly() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE
    of_handed uuid;
    first_marker uuid;
    second_marker uuid;
    student uuid;
    differ boolean;
BEGIN
    SELECT m.handed_id, k.marker_id, s.marker_id, w.person_id,
        EXISTS (SELECT FROM work_mark_criterion a JOIN second_mark_criterion b
            ON b.moderation_id = m.id AND b.position = a.position
            WHERE a.mark_id = m.mark_id AND (a.level, a.met) IS DISTINCT FROM (b.level, b.met))
        INTO STRICT of_handed, first_marker, second_marker, student, differ
        FROM moderation m JOIN work_mark k ON k.id = m.mark_id JOIN second_mark s ON s.moderation_id = m.id
        JOIN handed_work h ON h.id = m.handed_id JOIN assignment_work w ON w.id = h.work_id
        WHERE m.id = NEW.moderation_id;
    IF (NEW.outcome = 'agreed') = differ
        OR NEW.settled_by = first_marker AND NEW.outcome <> 'second_taken'
        OR NEW.settled_by = second_marker AND NEW.outcome NOT IN ('agreed', 'first_stands')
        OR NEW.outcome = 'agreed' AND NEW.settled_by <> second_marker
        OR NEW.settled_by = student
        OR EXISTS (SELECT FROM declared_relation r WHERE r.staff_id = NEW.settled_by AND r.student_id = student) THEN
        RAISE EXCEPTION '% may not settle % as %', NEW.settled_by, NEW.moderation_id, NEW.outcome
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'moderation_is_settled_fairly';
    END IF;
    IF NEW.mark_id IS NOT NULL AND NEW.mark_id IS DISTINCT FROM
        (SELECT CASE WHEN reason = 'second_marker' AND marker_id = NEW.settled_by THEN id END FROM work_mark
            WHERE handed_id = of_handed ORDER BY number DESC LIMIT 1) THEN
        RAISE EXCEPTION 'mark % is not given by settling %', NEW.mark_id, NEW.moderation_id
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'settlement_gives_its_mark';
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER moderation_is_settled_fairly BEFORE INSERT ON moderation_settlement
    FOR EACH ROW EXECUTE FUNCTION moderation_is_settled_fairly();

-- Whether work is closed to a reader because they give a second mark in its assignment and have not given it yet. All
-- settled work of the assignment is, but what they marked themselves: were only the drawn work closed, that would name it.
CREATE FUNCTION blind_work(of_work uuid, reader uuid) RETURNS boolean LANGUAGE sql STABLE AS $$
    SELECT EXISTS (
        SELECT FROM assignment_work w JOIN moderation m ON m.assignment_id = w.assignment_id
        WHERE w.id = $1 AND m.second_id = $2 AND m.second_at IS NULL
          AND EXISTS (SELECT FROM handed_work h WHERE h.work_id = w.id AND h.state IN ('accepted', 'rejected'))
          AND NOT EXISTS (SELECT FROM handed_work h JOIN work_mark k ON k.handed_id = h.id
              WHERE h.work_id = w.id AND k.marker_id = $2))
$$;
CREATE FUNCTION blind_batch(of_batch uuid, reader uuid) RETURNS boolean LANGUAGE sql STABLE AS $$
    SELECT EXISTS (SELECT FROM work_batch c WHERE c.batch_id = $1 AND blind_work(c.work_id, $2))
$$;

GRANT SELECT, INSERT ON moderation_share, moderation, second_mark, second_mark_criterion, moderation_settlement
    TO stillroom_service;
GRANT UPDATE (second_id) ON moderation TO stillroom_service;
