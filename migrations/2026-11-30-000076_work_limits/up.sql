-- That a student told the instructors of a cohort what they cannot work with, and that they withdrew it.
CREATE TABLE work_limit (
    id uuid PRIMARY KEY,
    cohort_id uuid NOT NULL REFERENCES cohort (id),
    person_id uuid NOT NULL REFERENCES person (id),
    told_at timestamptz NOT NULL,
    withdrawn_at timestamptz
);
CREATE UNIQUE INDEX work_limit_one ON work_limit (cohort_id, person_id) WHERE withdrawn_at IS NULL;
CREATE INDEX work_limit_cohort ON work_limit (cohort_id);
CREATE INDEX work_limit_person ON work_limit (person_id);

-- The words. They are removed as they are withdrawn; the journal vouches for the telling and not for these.
CREATE TABLE work_limit_words (
    limit_id uuid PRIMARY KEY REFERENCES work_limit (id),
    text text NOT NULL CHECK (char_length(text) BETWEEN 1 AND 300)
);

-- Nobody leaves words behind in a cohort that they left.
CREATE FUNCTION work_limit_ends_with_membership() RETURNS trigger
    LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    DELETE FROM public.work_limit_words w USING public.work_limit l
        WHERE l.id = w.limit_id AND l.cohort_id = OLD.cohort_id AND l.person_id = OLD.person_id;
    RETURN NULL;
END $$;
CREATE TRIGGER work_limit_ends_with_membership AFTER DELETE ON cohort_member
    FOR EACH ROW EXECUTE FUNCTION work_limit_ends_with_membership();

-- Whether an assignment of a student offers two formulas to choose from.
CREATE FUNCTION offers_both(of_person uuid, one uuid, other uuid) RETURNS boolean LANGUAGE sql STABLE AS $$
    SELECT EXISTS (SELECT FROM assignment_formula f JOIN assignment a ON a.id = f.assignment_id
        AND a.current_version = f.version_number AND a.state = 'published'
        JOIN assignment_formula g ON g.assignment_id = a.id AND g.version_number = f.version_number
        JOIN cohort_member m ON m.cohort_id = a.cohort_id AND m.person_id = $1 AND m.role = 'student'
        WHERE f.formula_id = $2 AND g.formula_id = $3)
$$;

GRANT SELECT, INSERT ON work_limit TO stillroom_service;
GRANT UPDATE (withdrawn_at) ON work_limit TO stillroom_service;
GRANT SELECT, INSERT, DELETE ON work_limit_words TO stillroom_service;
