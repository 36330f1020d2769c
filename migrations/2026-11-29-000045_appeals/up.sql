-- A student disagrees with a mark: once for each version of the work. Why is a word and the criteria that it is about, and
-- no text: what is written about amounts stands behind the gate.
CREATE TABLE appeal (
    handed_id uuid PRIMARY KEY REFERENCES handed_work (id),
    -- the mark that counted then
    mark_id uuid NOT NULL REFERENCES work_mark (id),
    reason text NOT NULL CHECK (reason IN ('record_misread', 'finding_wrong', 'level_as_described', 'circumstances')),
    criteria smallint[] NOT NULL CHECK (cardinality(criteria) > 0),
    at timestamptz NOT NULL
);
CREATE INDEX appeal_mark ON appeal (mark_id);

-- What came of it, once. Of one that is upheld the changed mark is another one, so that both stay.
CREATE TABLE appeal_decision (
    handed_id uuid PRIMARY KEY REFERENCES appeal (handed_id),
    decided_by uuid NOT NULL REFERENCES person (id),
    -- the mark that it gave; none where the mark stands
    mark_id uuid REFERENCES work_mark (id),
    at timestamptz NOT NULL
);
CREATE INDEX appeal_decision_by ON appeal_decision (decided_by);
CREATE INDEX appeal_decision_mark ON appeal_decision (mark_id);

-- An appeal is against the mark that counts.
CREATE FUNCTION appeal_is_of_last_mark() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF NEW.mark_id IS DISTINCT FROM
        (SELECT id FROM work_mark WHERE handed_id = NEW.handed_id ORDER BY number DESC LIMIT 1) THEN
        RAISE EXCEPTION 'mark % is not the one that counts of work %', NEW.mark_id, NEW.handed_id
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'appeal_is_of_last_mark';
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER appeal_is_of_last_mark BEFORE INSERT ON appeal
    FOR EACH ROW EXECUTE FUNCTION appeal_is_of_last_mark();

-- Somebody decides who gave no mark of the work before, but for the one that the decision gives, and who is neither its
-- maker nor related to them. That mark is the last of the work, and says that it is of an appeal.
CREATE FUNCTION appeal_decided_by_another() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE
    student uuid;
BEGIN
    SELECT w.person_id INTO STRICT student FROM handed_work h JOIN assignment_work w ON w.id = h.work_id
        WHERE h.id = NEW.handed_id;
    IF student = NEW.decided_by
        OR EXISTS (SELECT FROM declared_relation r WHERE r.staff_id = NEW.decided_by AND r.student_id = student)
        OR EXISTS (SELECT FROM work_mark m WHERE m.handed_id = NEW.handed_id AND m.marker_id = NEW.decided_by
            AND m.id IS DISTINCT FROM NEW.mark_id) THEN
        RAISE EXCEPTION '% may not decide the appeal on work %', NEW.decided_by, NEW.handed_id
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'appeal_decided_by_another';
    END IF;
    IF NEW.mark_id IS NOT NULL AND NEW.mark_id IS DISTINCT FROM
        (SELECT CASE WHEN reason = 'appeal' AND marker_id = NEW.decided_by THEN id END FROM work_mark
            WHERE handed_id = NEW.handed_id ORDER BY number DESC LIMIT 1) THEN
        RAISE EXCEPTION 'mark % is not given by the appeal on work %', NEW.mark_id, NEW.handed_id
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'appeal_gives_its_mark';
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER appeal_decided_by_another BEFORE INSERT ON appeal_decision
    FOR EACH ROW EXECUTE FUNCTION appeal_decided_by_another();

GRANT SELECT, INSERT ON appeal, appeal_decision TO stillroom_service;
