-- What waits to be marked, one row for each: what a marker's queue is ordered and filtered by, so that its first page costs
-- the same however much was ever handed in. Triggers alone write it.
CREATE TABLE work_waiting (
    handed_id uuid PRIMARY KEY REFERENCES handed_work (id),
    cohort_id uuid NOT NULL REFERENCES cohort (id),
    student_id uuid NOT NULL REFERENCES person (id),
    received_at timestamptz NOT NULL,
    -- for this student, with what the student was allowed
    due_at timestamptz NOT NULL,
    late boolean NOT NULL,
    came_back boolean NOT NULL,
    -- the kind of each finding, no figure of any
    findings text[] NOT NULL,
    -- whether there is a neutral note for those who teach
    noted boolean NOT NULL,
    -- nothing stands out: such work comes after all other
    clean boolean NOT NULL,
    CONSTRAINT work_waiting_clean CHECK (clean = NOT (late OR came_back OR noted OR cardinality(findings) > 0))
);
CREATE INDEX work_waiting_student ON work_waiting (student_id);
CREATE INDEX work_waiting_exceptions ON work_waiting (cohort_id, clean, received_at, handed_id);
CREATE INDEX work_waiting_oldest ON work_waiting (cohort_id, received_at, handed_id);
CREATE INDEX work_waiting_due ON work_waiting (cohort_id, due_at, handed_id);
CREATE INDEX work_waiting_came_back ON work_waiting (cohort_id, received_at, handed_id) WHERE came_back;
CREATE INDEX work_waiting_came_back_due ON work_waiting (cohort_id, due_at, handed_id) WHERE came_back;

-- The findings lie behind the gate. Their kinds are read here, and nothing else of them.
CREATE FUNCTION work_waiting_begins(handed handed_work) RETURNS void
    LANGUAGE sql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    INSERT INTO public.work_waiting (handed_id, cohort_id, student_id, received_at, due_at, late, came_back, findings, noted, clean)
    SELECT $1.id, a.cohort_id, w.person_id, $1.received_at, v.due_at + make_interval(mins => coalesce(l.extra_minutes, 0)), $1.late,
        $1.number > 1, k.kinds, false, NOT ($1.late OR $1.number > 1 OR cardinality(k.kinds) > 0)
    FROM public.assignment a
    JOIN public.assignment_work w ON w.id = $1.work_id
    JOIN public.assignment_version v ON v.assignment_id = a.id AND v.number = $1.version_number
    JOIN public.submission s ON s.batch_id = $1.batch_id AND s.number = $1.submission_number
    CROSS JOIN LATERAL (SELECT ARRAY(SELECT f ->> 'kind' FROM jsonb_array_elements(
        CASE jsonb_typeof(s.findings::jsonb) WHEN 'array' THEN s.findings::jsonb ELSE s.findings::jsonb -> 'findings' END) f)
        AS kinds) k
    LEFT JOIN public.assignment_allowance l ON l.id = $1.allowance_id
    WHERE a.id = $1.assignment_id
$$;

-- As the notes are told: no variation, a whole record written within 60 seconds, figures that are another student's. Of
-- equal figures each has the note. Rows are taken in one order, so that two who hand in do not wait for each other.
CREATE FUNCTION work_waiting_noted(trace handed_trace) RETURNS void
    LANGUAGE sql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    WITH alike AS (
        SELECT o.handed_id FROM public.handed_trace o JOIN public.handed_work h ON h.id = o.handed_id
        JOIN public.handed_work own ON own.id = $1.handed_id
        WHERE o.assignment_id = $1.assignment_id AND o.figures = $1.figures AND h.work_id <> own.work_id
    ), found AS (
        SELECT handed_id FROM alike
        UNION
        SELECT $1.handed_id WHERE $1.unvaried OR $1.seconds <= 60 OR EXISTS (SELECT FROM alike)
    ), held AS (
        SELECT w.handed_id FROM public.work_waiting w WHERE NOT w.noted AND w.handed_id IN (SELECT handed_id FROM found)
        ORDER BY w.handed_id FOR NO KEY UPDATE
    )
    UPDATE public.work_waiting w SET noted = true, clean = false FROM held WHERE w.handed_id = held.handed_id
$$;

SELECT work_waiting_begins(h) FROM handed_work h WHERE h.state = 'submitted';
SELECT work_waiting_noted(t) FROM handed_trace t JOIN work_waiting w ON w.handed_id = t.handed_id;

CREATE FUNCTION work_waits() RETURNS trigger
    LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    IF TG_OP = 'UPDATE' AND OLD.state = NEW.state THEN
        RETURN NULL;
    END IF;
    IF NEW.state = 'submitted' THEN
        PERFORM public.work_waiting_begins(NEW);
    ELSE
        DELETE FROM public.work_waiting WHERE handed_id = NEW.id;
    END IF;
    RETURN NULL;
END $$;
CREATE TRIGGER work_waits AFTER INSERT OR UPDATE OF state ON handed_work
    FOR EACH ROW EXECUTE FUNCTION work_waits();

CREATE FUNCTION work_is_noted() RETURNS trigger
    LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    PERFORM public.work_waiting_noted(NEW);
    RETURN NULL;
END $$;
CREATE TRIGGER work_is_noted AFTER INSERT ON handed_trace
    FOR EACH ROW EXECUTE FUNCTION work_is_noted();

REVOKE ALL ON FUNCTION work_waiting_begins(handed_work), work_waiting_noted(handed_trace) FROM PUBLIC;
GRANT SELECT ON work_waiting TO stillroom_service;
