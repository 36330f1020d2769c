-- A class of people for a term. The dates of its work are in its time zone and are kept as instants.
CREATE TABLE cohort (
    id uuid PRIMARY KEY,
    name text NOT NULL CHECK (name <> ''),
    time_zone text NOT NULL,
    starts_on date NOT NULL,
    ends_on date NOT NULL,
    version bigint NOT NULL,
    created_by uuid NOT NULL REFERENCES person (id),
    created_at timestamptz NOT NULL,
    CONSTRAINT cohort_term CHECK (starts_on <= ends_on)
);
CREATE UNIQUE INDEX cohort_name ON cohort (lower(name));
CREATE INDEX cohort_created_by ON cohort (created_by);
-- The instants of its work are kept, so another time zone would show other times than were set.
CREATE TRIGGER cohort_never_changes BEFORE UPDATE OF id, time_zone, created_by, created_at ON cohort
    FOR EACH ROW EXECUTE FUNCTION columns_never_change('id', 'time_zone', 'created_by', 'created_at');

CREATE TABLE cohort_member (
    cohort_id uuid NOT NULL REFERENCES cohort (id),
    person_id uuid NOT NULL REFERENCES person (id),
    role text NOT NULL CHECK (role IN ('student', 'instructor', 'marker')),
    added_by uuid NOT NULL REFERENCES person (id),
    added_at timestamptz NOT NULL,
    PRIMARY KEY (cohort_id, person_id)
);
CREATE INDEX cohort_member_person ON cohort_member (person_id);
CREATE INDEX cohort_member_added_by ON cohort_member (added_by);

-- A code to join a cohort with. Only its digest is kept.
CREATE TABLE cohort_code (
    id uuid PRIMARY KEY,
    cohort_id uuid NOT NULL REFERENCES cohort (id),
    code_hash bytea NOT NULL UNIQUE CHECK (octet_length(code_hash) = 32),
    created_by uuid NOT NULL REFERENCES person (id),
    created_at timestamptz NOT NULL,
    valid_until timestamptz NOT NULL,
    closed_at timestamptz
);
CREATE INDEX cohort_code_cohort ON cohort_code (cohort_id, id);
CREATE INDEX cohort_code_created_by ON cohort_code (created_by);
CREATE TRIGGER cohort_code_never_changes
    BEFORE UPDATE OF id, cohort_id, code_hash, created_by, created_at, valid_until ON cohort_code
    FOR EACH ROW EXECUTE FUNCTION columns_never_change('id', 'cohort_id', 'code_hash', 'created_by', 'created_at', 'valid_until');

-- The instructors' own questions. A question never changes: another takes its place.
CREATE TABLE bank_question (
    id uuid PRIMARY KEY,
    cohort_id uuid NOT NULL REFERENCES cohort (id),
    text text NOT NULL CHECK (text <> ''),
    answer jsonb NOT NULL,
    worked text NOT NULL,
    created_by uuid NOT NULL REFERENCES person (id),
    created_at timestamptz NOT NULL
);
CREATE INDEX bank_question_cohort ON bank_question (cohort_id, id);
CREATE INDEX bank_question_created_by ON bank_question (created_by);

CREATE TABLE assignment (
    id uuid PRIMARY KEY,
    cohort_id uuid NOT NULL REFERENCES cohort (id),
    state text NOT NULL CHECK (state IN ('draft', 'published', 'withdrawn')),
    -- which of its versions is in force
    current_version integer NOT NULL CHECK (current_version > 0),
    version bigint NOT NULL,
    -- what each student's numbers are drawn with; it never leaves the service
    secret bytea NOT NULL CHECK (octet_length(secret) = 32),
    created_by uuid NOT NULL REFERENCES person (id),
    created_at timestamptz NOT NULL,
    published_at timestamptz,
    withdrawn_because text,
    CONSTRAINT assignment_published CHECK (state <> 'published' OR published_at IS NOT NULL),
    CONSTRAINT assignment_withdrawn CHECK ((state = 'withdrawn') = (withdrawn_because IS NOT NULL))
);
CREATE INDEX assignment_cohort ON assignment (cohort_id, id);
CREATE INDEX assignment_created_by ON assignment (created_by);
CREATE TRIGGER assignment_never_changes
    BEFORE UPDATE OF id, cohort_id, secret, created_by, created_at ON assignment
    FOR EACH ROW EXECUTE FUNCTION columns_never_change('id', 'cohort_id', 'secret', 'created_by', 'created_at');

-- What an assignment was, version by version.
CREATE TABLE assignment_version (
    assignment_id uuid NOT NULL REFERENCES assignment (id),
    number integer NOT NULL CHECK (number > 0),
    title text NOT NULL CHECK (title <> ''),
    instructions text NOT NULL,
    quantity text NOT NULL,
    opens_at timestamptz NOT NULL,
    due_at timestamptz NOT NULL,
    late_until timestamptz,
    attempts smallint NOT NULL CHECK (attempts BETWEEN 1 AND 10),
    returns_allowed smallint NOT NULL CHECK (returns_allowed BETWEEN 0 AND 10),
    rubric jsonb NOT NULL,
    reason text,
    created_by uuid NOT NULL REFERENCES person (id),
    created_at timestamptz NOT NULL,
    PRIMARY KEY (assignment_id, number),
    CONSTRAINT assignment_version_due CHECK (opens_at < due_at),
    CONSTRAINT assignment_version_late CHECK (late_until > due_at)
);
CREATE INDEX assignment_version_created_by ON assignment_version (created_by);

CREATE TABLE assignment_formula (
    assignment_id uuid NOT NULL,
    version_number integer NOT NULL,
    position smallint NOT NULL,
    revision_id uuid NOT NULL REFERENCES revision (id),
    formula_id uuid NOT NULL REFERENCES formula (id),
    PRIMARY KEY (assignment_id, version_number, position),
    CONSTRAINT assignment_formula_once UNIQUE (assignment_id, version_number, formula_id),
    FOREIGN KEY (assignment_id, version_number) REFERENCES assignment_version (assignment_id, number)
);
CREATE INDEX assignment_formula_revision ON assignment_formula (revision_id);
CREATE INDEX assignment_formula_formula ON assignment_formula (formula_id);

CREATE TABLE assignment_question (
    assignment_id uuid NOT NULL,
    version_number integer NOT NULL,
    position smallint NOT NULL,
    kind text NOT NULL CHECK (kind IN ('jar_filling', 'bottle_filling', 'spirit_dilution', 'use_by', 'must_not_use', 'bank')),
    bank_question_id uuid REFERENCES bank_question (id),
    PRIMARY KEY (assignment_id, version_number, position),
    CONSTRAINT assignment_question_of_bank CHECK ((kind = 'bank') = (bank_question_id IS NOT NULL)),
    FOREIGN KEY (assignment_id, version_number) REFERENCES assignment_version (assignment_id, number)
);
CREATE INDEX assignment_question_bank ON assignment_question (bank_question_id);

-- A student's work on an assignment.
CREATE TABLE assignment_work (
    id uuid PRIMARY KEY,
    assignment_id uuid NOT NULL REFERENCES assignment (id),
    person_id uuid NOT NULL REFERENCES person (id),
    begun_at timestamptz NOT NULL,
    -- when the last of the questions was answered
    done_at timestamptz,
    CONSTRAINT assignment_work_once UNIQUE (assignment_id, person_id)
);
CREATE INDEX assignment_work_person ON assignment_work (person_id);
CREATE TRIGGER assignment_work_never_changes BEFORE UPDATE OF id, assignment_id, person_id, begun_at ON assignment_work
    FOR EACH ROW EXECUTE FUNCTION columns_never_change('id', 'assignment_id', 'person_id', 'begun_at');

-- One student's question, with the numbers that were drawn for the student. They hold no amount of the formula.
CREATE TABLE question (
    id uuid PRIMARY KEY,
    work_id uuid NOT NULL REFERENCES assignment_work (id),
    assignment_id uuid NOT NULL REFERENCES assignment (id),
    position smallint NOT NULL,
    kind text NOT NULL,
    asked jsonb NOT NULL,
    -- names the student's numbers, so that no two students get the same; a question without numbers has none
    numbers bytea CHECK (octet_length(numbers) = 32),
    state text NOT NULL CHECK (state IN ('open', 'answered')),
    attempts smallint NOT NULL CHECK (attempts >= 0),
    answered_at timestamptz,
    CONSTRAINT question_once UNIQUE (work_id, position),
    CONSTRAINT question_answered CHECK ((state = 'answered') = (answered_at IS NOT NULL))
);
CREATE UNIQUE INDEX question_numbers ON question (assignment_id, position, numbers);
CREATE TRIGGER question_never_changes
    BEFORE UPDATE OF id, work_id, assignment_id, position, kind, asked, numbers ON question
    FOR EACH ROW EXECUTE FUNCTION columns_never_change('id', 'work_id', 'assignment_id', 'position', 'kind', 'asked', 'numbers');
CREATE FUNCTION question_stays_answered() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF OLD.state = 'answered' AND NEW IS DISTINCT FROM OLD THEN
        RAISE EXCEPTION 'question % was answered', OLD.id USING ERRCODE = 'integrity_constraint_violation';
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER question_stays_answered BEFORE UPDATE ON question
    FOR EACH ROW EXECUTE FUNCTION question_stays_answered();

CREATE TABLE question_answer (
    id uuid PRIMARY KEY,
    question_id uuid NOT NULL REFERENCES question (id),
    number integer NOT NULL CHECK (number > 0),
    answers jsonb NOT NULL,
    found jsonb NOT NULL,
    is_right boolean NOT NULL,
    late boolean NOT NULL,
    at timestamptz NOT NULL,
    CONSTRAINT question_answer_once UNIQUE (question_id, number)
);

-- The published assignments that hold a student's grant for a revision shut at a time: they have opened, name a revision
-- of the same formula, and have questions that the student has not answered. The check in the service asks this too.
CREATE FUNCTION assignments_holding(of_holder uuid, of_revision uuid, at_time timestamptz)
RETURNS TABLE (assignment_id uuid, title text, unanswered bigint) LANGUAGE sql STABLE AS $$
    SELECT a.id, v.title, asked.count - done.count
    FROM revision r
    JOIN assignment_formula f ON f.formula_id = r.formula_id
    JOIN assignment a ON a.id = f.assignment_id AND a.current_version = f.version_number AND a.state = 'published'
    JOIN assignment_version v ON v.assignment_id = a.id AND v.number = a.current_version
    JOIN cohort_member m ON m.cohort_id = a.cohort_id AND m.person_id = of_holder AND m.role = 'student'
    JOIN person p ON p.id = m.person_id AND p.role = 'student'
    CROSS JOIN LATERAL (SELECT count(*) FROM assignment_question q
        WHERE q.assignment_id = a.id AND q.version_number = a.current_version) asked
    LEFT JOIN assignment_work w ON w.assignment_id = a.id AND w.person_id = of_holder
    CROSS JOIN LATERAL (SELECT count(*) FROM question q WHERE q.work_id = w.id AND q.state = 'answered') done
    WHERE r.id = of_revision AND v.opens_at <= at_time AND asked.count > 0 AND w.done_at IS NULL
    ORDER BY v.due_at, a.id
$$;

-- No grant to make while an assignment holds it shut. The time is that of the acknowledgement, or of the countersignature
-- that opens it.
CREATE FUNCTION release_grant_waits_for_questions() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE
    given_at timestamptz;
    holding record;
BEGIN
    SELECT coalesce(c.at, a.at) INTO STRICT given_at FROM acknowledgement a
        LEFT JOIN countersignature c ON c.acknowledgement_id = a.id WHERE a.id = NEW.acknowledgement_id;
    SELECT * INTO holding FROM assignments_holding(NEW.holder_id, NEW.revision_id, given_at) LIMIT 1;
    IF FOUND THEN
        RAISE EXCEPTION 'assignment % holds the grant of % shut', holding.assignment_id, NEW.holder_id
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'release_grant_waits_for_questions';
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER release_grant_waits_for_questions
    BEFORE INSERT OR UPDATE OF holder_id, revision_id, digest, purpose, acknowledgement_id ON release_grant
    FOR EACH ROW WHEN (NEW.purpose = 'make') EXECUTE FUNCTION release_grant_waits_for_questions();

GRANT SELECT, INSERT ON cohort, cohort_code, bank_question, assignment, assignment_version, assignment_formula,
    assignment_question, assignment_work, question, question_answer TO stillroom_service;
GRANT SELECT, INSERT, DELETE ON cohort_member TO stillroom_service;
GRANT UPDATE (name, starts_on, ends_on, version) ON cohort TO stillroom_service;
GRANT UPDATE (done_at) ON assignment_work TO stillroom_service;
GRANT UPDATE (role) ON cohort_member TO stillroom_service;
GRANT UPDATE (closed_at) ON cohort_code TO stillroom_service;
GRANT UPDATE (state, current_version, version, published_at, withdrawn_because) ON assignment TO stillroom_service;
GRANT UPDATE (state, attempts, answered_at) ON question TO stillroom_service;
