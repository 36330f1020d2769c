-- What a member of staff has declared: a relation to a student. They mark no work of that student.
CREATE TABLE declared_relation (
    id uuid PRIMARY KEY,
    staff_id uuid NOT NULL REFERENCES person (id),
    student_id uuid NOT NULL REFERENCES person (id),
    declared_at timestamptz NOT NULL,
    CONSTRAINT declared_relation_once UNIQUE (staff_id, student_id),
    CONSTRAINT declared_relation_to_another CHECK (staff_id <> student_id)
);
CREATE INDEX declared_relation_student ON declared_relation (student_id);

-- Who is marking work that was handed in: one at a time. A claim is deleted with the verdict, or when it is given up.
CREATE TABLE work_claim (
    handed_id uuid PRIMARY KEY REFERENCES handed_work (id),
    marker_id uuid NOT NULL REFERENCES person (id),
    claimed_at timestamptz NOT NULL,
    ends_at timestamptz NOT NULL,
    CONSTRAINT work_claim_time CHECK (ends_at > claimed_at)
);
CREATE INDEX work_claim_marker ON work_claim (marker_id);

-- A mark on work that was handed in. A changed mark is another one, with its reason.
CREATE TABLE work_mark (
    id uuid PRIMARY KEY,
    handed_id uuid NOT NULL REFERENCES handed_work (id),
    number integer NOT NULL CHECK (number > 0),
    marker_id uuid NOT NULL REFERENCES person (id),
    -- a word and no text: what is written about amounts stands in the comments of the review
    reason text CHECK (reason IN ('wrong_level', 'record_misread', 'new_evidence', 'second_marker', 'appeal')),
    at timestamptz NOT NULL,
    CONSTRAINT work_mark_once UNIQUE (handed_id, number),
    CONSTRAINT work_mark_changed CHECK ((number > 1) = (reason IS NOT NULL))
);
CREATE INDEX work_mark_marker ON work_mark (marker_id);

-- What was decided on each criterion of the rubric, counted from 1.
CREATE TABLE work_mark_criterion (
    mark_id uuid NOT NULL REFERENCES work_mark (id),
    position smallint NOT NULL CHECK (position > 0),
    level smallint CHECK (level > 0),
    points integer CHECK (points >= 0),
    met boolean,
    -- the comment beside it, among those of the review
    review_id uuid,
    comment_position smallint,
    PRIMARY KEY (mark_id, position),
    FOREIGN KEY (review_id, comment_position) REFERENCES review_comment (review_id, position),
    CONSTRAINT work_mark_criterion_decided CHECK ((level IS NULL) = (met IS NOT NULL) AND (level IS NULL) = (points IS NULL)),
    CONSTRAINT work_mark_criterion_comment CHECK ((review_id IS NULL) = (comment_position IS NULL)),
    -- what is not met says why
    CONSTRAINT work_mark_criterion_not_met CHECK (met IS DISTINCT FROM false OR review_id IS NOT NULL)
);
CREATE INDEX work_mark_criterion_comment ON work_mark_criterion (review_id, comment_position);

-- Nobody claims or marks their own work, or that of a student to whom they declared a relation.
CREATE FUNCTION marker_is_another() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE
    student uuid;
BEGIN
    SELECT w.person_id INTO STRICT student FROM handed_work h JOIN assignment_work w ON w.id = h.work_id
        WHERE h.id = NEW.handed_id;
    IF student = NEW.marker_id
        OR EXISTS (SELECT FROM declared_relation r WHERE r.staff_id = NEW.marker_id AND r.student_id = student) THEN
        RAISE EXCEPTION '% may not mark work %', NEW.marker_id, NEW.handed_id
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'marker_is_another';
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER marker_is_another BEFORE INSERT OR UPDATE OF handed_id, marker_id ON work_claim
    FOR EACH ROW EXECUTE FUNCTION marker_is_another();
CREATE TRIGGER marker_is_another BEFORE INSERT ON work_mark
    FOR EACH ROW EXECUTE FUNCTION marker_is_another();

-- A claim that has not ended is nobody else's.
CREATE FUNCTION work_claim_holds() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF NEW.marker_id <> OLD.marker_id AND NEW.claimed_at < OLD.ends_at THEN
        RAISE EXCEPTION 'work % is claimed by %', OLD.handed_id, OLD.marker_id
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'work_claim_holds';
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER work_claim_holds BEFORE UPDATE ON work_claim
    FOR EACH ROW EXECUTE FUNCTION work_claim_holds();

-- Whoever marks has claimed the work, and the claim has not ended.
CREATE FUNCTION work_mark_is_claimed() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    PERFORM FROM work_claim c
        WHERE c.handed_id = NEW.handed_id AND c.marker_id = NEW.marker_id AND c.ends_at > NEW.at;
    IF NOT FOUND THEN
        RAISE EXCEPTION 'work % is not claimed by %', NEW.handed_id, NEW.marker_id
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'work_mark_is_claimed';
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER work_mark_is_claimed BEFORE INSERT ON work_mark
    FOR EACH ROW EXECUTE FUNCTION work_mark_is_claimed();

-- A decision is one that the rubric of the work's own version has, with its points.
CREATE FUNCTION work_mark_follows_rubric() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE
    criterion jsonb;
BEGIN
    SELECT v.rubric -> 'criteria' -> (NEW.position - 1) INTO criterion
        FROM work_mark m JOIN handed_work h ON h.id = m.handed_id
        JOIN assignment_version v ON v.assignment_id = h.assignment_id AND v.number = h.version_number
        WHERE m.id = NEW.mark_id;
    IF criterion IS NULL
        OR (NEW.level IS NULL) <> (criterion ->> 'must_pass')::boolean
        OR (NEW.level IS NOT NULL
            AND (criterion -> 'levels' -> (NEW.level - 1) ->> 'points')::integer IS DISTINCT FROM NEW.points) THEN
        RAISE EXCEPTION 'criterion % of mark % is none of the rubric', NEW.position, NEW.mark_id
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'work_mark_follows_rubric';
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER work_mark_follows_rubric BEFORE INSERT ON work_mark_criterion
    FOR EACH ROW EXECUTE FUNCTION work_mark_follows_rubric();

GRANT SELECT, INSERT ON declared_relation, work_mark, work_mark_criterion TO stillroom_service;
GRANT SELECT, INSERT, DELETE ON work_claim TO stillroom_service;
GRANT UPDATE (marker_id, claimed_at, ends_at) ON work_claim TO stillroom_service;
