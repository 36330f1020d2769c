-- What a student can be signed off as able to do. It never changes: another takes its place. Those that come with the
-- service were added by nobody.
CREATE TABLE competency (
    id uuid PRIMARY KEY,
    name text NOT NULL CHECK (name <> ''),
    says text NOT NULL CHECK (says <> ''),
    -- so many accepted works, of one kind of preparation or of any
    accepted_works smallint CHECK (accepted_works BETWEEN 1 AND 100),
    accepted_preparation text,
    -- so many works at the highest level of a criterion, or that meet it
    criterion_works smallint CHECK (criterion_works BETWEEN 1 AND 100),
    criterion_title text,
    -- so many questions that were answered rightly at the first attempt, of one kind or of any
    right_answers smallint CHECK (right_answers BETWEEN 1 AND 100),
    question_kind text,
    lasts_months smallint NOT NULL CHECK (lasts_months BETWEEN 1 AND 120),
    added_by uuid REFERENCES person (id),
    added_at timestamptz NOT NULL,
    CONSTRAINT competency_has_a_rule CHECK (coalesce(accepted_works, criterion_works, right_answers) IS NOT NULL),
    CONSTRAINT competency_accepted CHECK (accepted_preparation IS NULL OR accepted_works IS NOT NULL),
    CONSTRAINT competency_criterion CHECK ((criterion_title IS NULL) = (criterion_works IS NULL)),
    CONSTRAINT competency_answers CHECK (question_kind IS NULL OR right_answers IS NOT NULL)
);
CREATE UNIQUE INDEX competency_name ON competency (lower(name));
CREATE INDEX competency_added_by ON competency (added_by);

-- An instructor's word that a student can do it, with what the rule counted then. It ends by itself.
CREATE TABLE sign_off (
    id uuid PRIMARY KEY,
    competency_id uuid NOT NULL REFERENCES competency (id),
    person_id uuid NOT NULL REFERENCES person (id),
    cohort_id uuid NOT NULL REFERENCES cohort (id),
    accepted_works integer NOT NULL CHECK (accepted_works >= 0),
    criterion_works integer NOT NULL CHECK (criterion_works >= 0),
    right_answers integer NOT NULL CHECK (right_answers >= 0),
    signed_by uuid NOT NULL REFERENCES person (id),
    at timestamptz NOT NULL,
    ends_at timestamptz NOT NULL,
    CONSTRAINT sign_off_by_another CHECK (signed_by <> person_id),
    CONSTRAINT sign_off_time CHECK (ends_at > at)
);
CREATE INDEX sign_off_competency ON sign_off (competency_id);
CREATE INDEX sign_off_person ON sign_off (person_id, competency_id, at);
CREATE INDEX sign_off_cohort ON sign_off (cohort_id);
CREATE INDEX sign_off_signed_by ON sign_off (signed_by);

-- A sign-off that was taken back, once, with its reason: a word and no text.
CREATE TABLE sign_off_revocation (
    sign_off_id uuid PRIMARY KEY REFERENCES sign_off (id),
    reason text NOT NULL CHECK (reason IN ('signed_by_mistake', 'not_shown_again', 'unsafe_practice')),
    revoked_by uuid NOT NULL REFERENCES person (id),
    at timestamptz NOT NULL
);
CREATE INDEX sign_off_revocation_by ON sign_off_revocation (revoked_by);

-- Whoever signs teaches the student in that cohort and is not related to them; what the rule asks for is there; and it lasts
-- as long as the competency says, at most.
CREATE FUNCTION sign_off_holds() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE
    of_rule competency;
BEGIN
    SELECT * INTO STRICT of_rule FROM competency c WHERE c.id = NEW.competency_id;
    IF NEW.accepted_works < coalesce(of_rule.accepted_works, 0)
        OR NEW.criterion_works < coalesce(of_rule.criterion_works, 0)
        OR NEW.right_answers < coalesce(of_rule.right_answers, 0)
        OR NEW.ends_at > NEW.at + make_interval(months => of_rule.lasts_months) + interval '2 days' THEN
        RAISE EXCEPTION 'sign-off % does not follow the rule of %', NEW.id, NEW.competency_id
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'sign_off_follows_rule';
    END IF;
    PERFORM FROM cohort_member t JOIN cohort_member s ON s.cohort_id = t.cohort_id
        JOIN person p ON p.id = t.person_id AND p.role = 'instructor'
        WHERE t.cohort_id = NEW.cohort_id AND t.person_id = NEW.signed_by AND t.role = 'instructor'
            AND s.person_id = NEW.person_id AND s.role = 'student'
            AND NOT EXISTS (SELECT FROM declared_relation r WHERE r.staff_id = NEW.signed_by AND r.student_id = NEW.person_id);
    IF NOT FOUND THEN
        RAISE EXCEPTION '% may not sign for %', NEW.signed_by, NEW.person_id
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'sign_off_by_teacher';
    END IF;
    RETURN NEW;
END $$;

-- A student has one sign-off of a competency that holds, whichever of their cohorts signs. The lock on the competency comes
-- after all others of its transaction, and makes two who sign at once follow each other.
CREATE FUNCTION sign_off_is_the_only_one() RETURNS trigger
    LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    PERFORM FROM public.competency c WHERE c.id = NEW.competency_id FOR NO KEY UPDATE;
    PERFORM FROM public.sign_off s WHERE s.competency_id = NEW.competency_id AND s.person_id = NEW.person_id
        AND s.ends_at > NEW.at AND NOT EXISTS (SELECT FROM public.sign_off_revocation x WHERE x.sign_off_id = s.id);
    IF FOUND THEN
        RAISE EXCEPTION 'a sign-off of % for % holds already', NEW.person_id, NEW.competency_id
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'sign_off_once';
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER sign_off_is_the_only_one BEFORE INSERT ON sign_off
    FOR EACH ROW EXECUTE FUNCTION sign_off_is_the_only_one();
CREATE TRIGGER sign_off_holds BEFORE INSERT ON sign_off FOR EACH ROW EXECUTE FUNCTION sign_off_holds();

GRANT SELECT, INSERT ON competency, sign_off, sign_off_revocation TO stillroom_service;
