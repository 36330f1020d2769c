-- The jars that are on the shelf: filled, and neither handed out, nor kept as a sample, nor emptied, recalled or discarded.
-- What is ready to be handed out is listed from here, so that a page costs the same however many jars there ever were.
-- Triggers alone write it.
CREATE TABLE jar_here (
    jar_id uuid PRIMARY KEY REFERENCES jar (id),
    batch_id uuid NOT NULL REFERENCES batch (id),
    filling_id uuid NOT NULL REFERENCES jar_filling (id),
    number integer NOT NULL,
    -- the last day on its label; a day that never comes where no rule dates it
    use_by date NOT NULL
);
CREATE INDEX jar_here_use_by ON jar_here (use_by, filling_id, number);
CREATE INDEX jar_here_filling ON jar_here (filling_id);
CREATE INDEX jar_here_batch ON jar_here (batch_id);

INSERT INTO jar_here (jar_id, batch_id, filling_id, number, use_by)
SELECT j.id, j.batch_id, j.filling_id, j.number, coalesce(f.use_by, DATE '9999-12-31')
FROM jar j JOIN jar_filling f ON f.id = j.filling_id JOIN batch b ON b.id = j.batch_id
WHERE b.disposition NOT IN ('recalled', 'discarded')
    AND NOT EXISTS (SELECT FROM jar_handing h WHERE h.jar_id = j.id)
    AND NOT EXISTS (SELECT FROM retained_sample s WHERE s.jar_id = j.id)
    AND NOT EXISTS (SELECT FROM jar_decanting d WHERE d.jar_id = j.id);

CREATE FUNCTION jar_comes() RETURNS trigger
    LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    INSERT INTO public.jar_here (jar_id, batch_id, filling_id, number, use_by)
    SELECT NEW.id, NEW.batch_id, NEW.filling_id, NEW.number, coalesce(f.use_by, DATE '9999-12-31')
    FROM public.jar_filling f WHERE f.id = NEW.filling_id;
    RETURN NULL;
END $$;
CREATE TRIGGER jar_comes AFTER INSERT ON jar FOR EACH ROW EXECUTE FUNCTION jar_comes();

CREATE FUNCTION jar_leaves() RETURNS trigger
    LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    DELETE FROM public.jar_here WHERE jar_id = NEW.jar_id;
    RETURN NULL;
END $$;
CREATE TRIGGER jar_leaves AFTER INSERT ON jar_handing FOR EACH ROW EXECUTE FUNCTION jar_leaves();
CREATE TRIGGER jar_leaves AFTER INSERT ON retained_sample FOR EACH ROW EXECUTE FUNCTION jar_leaves();
CREATE TRIGGER jar_leaves AFTER INSERT ON jar_decanting FOR EACH ROW EXECUTE FUNCTION jar_leaves();

CREATE FUNCTION jars_leave() RETURNS trigger
    LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    DELETE FROM public.jar_here WHERE batch_id = NEW.batch_id;
    RETURN NULL;
END $$;
CREATE TRIGGER jars_leave AFTER INSERT ON batch_decision
    FOR EACH ROW WHEN (NEW.decision IN ('recalled', 'discarded')) EXECUTE FUNCTION jars_leave();

-- Whether a formula was withdrawn, is withheld, or has a stop among its present cautions: what was made by it is not used.
CREATE FUNCTION revision_stopped(of uuid) RETURNS boolean LANGUAGE sql STABLE AS $$
    SELECT EXISTS (SELECT FROM revision r WHERE r.id = $1 AND r.state = 'withdrawn')
        OR EXISTS (SELECT FROM withholding w WHERE w.revision_id = $1)
        OR EXISTS (SELECT FROM gate g JOIN caution c ON c.revision_id = g.revision_id AND c.set_number = g.set_number
            WHERE g.revision_id = $1 AND c.level = 'stop')
$$;

GRANT SELECT ON jar_here TO stillroom_service;
