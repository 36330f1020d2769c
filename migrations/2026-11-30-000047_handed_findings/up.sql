-- How many findings of each kind work had when it was handed in, for what a student and a class practise next. The findings
-- lie behind the gate. Their kinds and numbers stand here, and nothing else of them. A trigger alone writes it.
CREATE TABLE handed_finding (
    handed_id uuid NOT NULL REFERENCES handed_work (id),
    kind text NOT NULL CHECK (kind <> ''),
    found integer NOT NULL CHECK (found > 0),
    PRIMARY KEY (handed_id, kind)
);

CREATE FUNCTION handed_findings_of(handed handed_work) RETURNS void
    LANGUAGE sql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    INSERT INTO public.handed_finding (handed_id, kind, found)
    SELECT $1.id, f ->> 'kind', count(*) FROM public.submission s
    CROSS JOIN LATERAL jsonb_array_elements(
        CASE jsonb_typeof(s.findings::jsonb) WHEN 'array' THEN s.findings::jsonb ELSE s.findings::jsonb -> 'findings' END) f
    WHERE s.batch_id = $1.batch_id AND s.number = $1.submission_number
    GROUP BY f ->> 'kind'
$$;

SELECT handed_findings_of(h) FROM handed_work h;

CREATE FUNCTION handed_work_has_findings() RETURNS trigger
    LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    PERFORM public.handed_findings_of(NEW);
    RETURN NULL;
END $$;
CREATE TRIGGER handed_work_has_findings AFTER INSERT ON handed_work
    FOR EACH ROW EXECUTE FUNCTION handed_work_has_findings();

REVOKE ALL ON FUNCTION handed_findings_of(handed_work) FROM PUBLIC;
GRANT SELECT ON handed_finding TO stillroom_service;
