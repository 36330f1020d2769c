-- A jar whose content was filled into smaller ones of its batch. It is empty from then on; what it held counts once.
CREATE TABLE jar_decanting (
    jar_id uuid PRIMARY KEY,
    batch_id uuid NOT NULL,
    on_day date NOT NULL,
    reason text NOT NULL CHECK (char_length(reason) BETWEEN 1 AND 1000),
    by_id uuid NOT NULL REFERENCES person (id),
    at timestamptz NOT NULL,
    CONSTRAINT jar_decanting_of_batch UNIQUE (jar_id, batch_id),
    CONSTRAINT jar_decanting_jar FOREIGN KEY (jar_id, batch_id) REFERENCES jar (id, batch_id)
);
CREATE INDEX jar_decanting_batch ON jar_decanting (batch_id);
CREATE INDEX jar_decanting_by ON jar_decanting (by_id);

-- From which jar others were filled; absent where they were filled from the yield.
ALTER TABLE jar_filling ADD COLUMN decanted_from uuid,
    ADD CONSTRAINT jar_filling_decanted FOREIGN KEY (decanted_from, batch_id) REFERENCES jar_decanting (jar_id, batch_id);
CREATE INDEX jar_filling_decanted_from ON jar_filling (decanted_from, batch_id);

-- Only what is here and may still be used is decanted, up to its last day.
CREATE FUNCTION jar_decanted_here() RETURNS trigger
    LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    PERFORM FROM public.batch WHERE id = NEW.batch_id AND state = 'accepted'
        AND disposition IN ('practice_only', 'quarantine', 'released') FOR NO KEY UPDATE;
    IF NOT FOUND OR NOT coalesce((SELECT least(f.use_by, public.batch_last_day(NEW.batch_id)) >= NEW.on_day
            FROM public.jar j JOIN public.jar_filling f ON f.id = j.filling_id WHERE j.id = NEW.jar_id), true) THEN
        RAISE EXCEPTION 'jar % is recalled, discarded or past its date', NEW.jar_id
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'jar_decanted_here';
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER jar_decanted_here BEFORE INSERT ON jar_decanting
    FOR EACH ROW EXECUTE FUNCTION jar_decanted_here();

-- A jar is handed out, kept as a sample, or emptied into others: one of them.
CREATE OR REPLACE FUNCTION jar_handed_or_kept() RETURNS trigger
    LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    PERFORM FROM public.jar WHERE id = NEW.jar_id FOR NO KEY UPDATE;
    IF (SELECT count(*) FROM (
            SELECT FROM public.retained_sample WHERE jar_id = NEW.jar_id
            UNION ALL SELECT FROM public.jar_handing WHERE jar_id = NEW.jar_id
            UNION ALL SELECT FROM public.jar_decanting WHERE jar_id = NEW.jar_id) had) > 1 THEN
        RAISE EXCEPTION 'jar % was handed out, is a retained sample, or is empty', NEW.jar_id
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'jar_handed_or_kept';
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER jar_handed_or_kept AFTER INSERT ON jar_decanting
    FOR EACH ROW EXECUTE FUNCTION jar_handed_or_kept();

-- What was decanted holds no more than its jar held, and keeps no longer. What was spilt is missing.
CREATE FUNCTION decanted_no_more() RETURNS trigger
    LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    PERFORM FROM public.jar WHERE id = NEW.decanted_from FOR NO KEY UPDATE;
    IF NOT EXISTS (SELECT FROM public.jar j JOIN public.jar_filling f ON f.id = j.filling_id
            WHERE j.id = NEW.decanted_from AND f.grams >= (SELECT sum(n.jars * n.grams) FROM public.jar_filling n
                WHERE n.decanted_from = NEW.decanted_from)
            AND NOT coalesce(NEW.use_by > f.use_by, NEW.use_by IS NULL AND f.use_by IS NOT NULL)) THEN
        RAISE EXCEPTION 'jar % held less, or keeps less long', NEW.decanted_from
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'decanted_no_more';
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER decanted_no_more AFTER INSERT ON jar_filling
    FOR EACH ROW WHEN (NEW.decanted_from IS NOT NULL) EXECUTE FUNCTION decanted_no_more();

-- Nothing of the yield is taken twice: what was decanted stands in its first jar.
CREATE OR REPLACE FUNCTION batch_left(of uuid) RETURNS numeric
    LANGUAGE sql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    SELECT y.grams
        - coalesce((SELECT sum(e.grams) FROM public.batch_entry e
            WHERE e.batch_id = $1 AND e.number > y.number AND e.kind IN ('transfer_loss', 'spill_loss', 'sample')
                AND NOT EXISTS (SELECT FROM public.batch_entry c WHERE c.corrects_id = e.id)), 0)
        - coalesce((SELECT sum(f.jars * f.grams) FROM public.jar_filling f
            WHERE f.batch_id = $1 AND f.decanted_from IS NULL), 0)
        - coalesce((SELECT sum(m.grams) FROM public.lot l JOIN public.lot_movement m ON m.lot_id = l.id
            WHERE l.batch_id = $1 AND m.kind = 'received'), 0)
    FROM public.batch_entry y
    WHERE y.batch_id = $1 AND y.kind = 'yield'
        AND NOT EXISTS (SELECT FROM public.batch_entry c WHERE c.corrects_id = y.id)
    ORDER BY y.number DESC LIMIT 1
$$;

-- A jar that is empty is accounted for by those that were filled from it.
CREATE OR REPLACE FUNCTION recall_unaccounted(of uuid) RETURNS bigint LANGUAGE sql STABLE AS $$
    SELECT (SELECT count(*) FROM recall_item i WHERE i.recall_id = $1 AND NOT EXISTS (
            SELECT FROM recall_outcome o WHERE o.recall_id = i.recall_id AND o.item = i.number))
        + (SELECT count(*) FROM recall_item i JOIN jar j ON j.batch_id = i.batch_id
            WHERE i.recall_id = $1 AND NOT EXISTS (SELECT FROM jar_decanting d WHERE d.jar_id = j.id)
                AND NOT EXISTS (SELECT FROM recall_jar_outcome o WHERE o.recall_id = i.recall_id AND o.jar_id = j.id))
$$;

-- Nobody looks at a jar that is empty.
CREATE OR REPLACE FUNCTION observation_of_jar_here() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF NEW.corrects_id IS NULL AND (
        EXISTS (SELECT FROM batch WHERE id = NEW.batch_id AND disposition = 'discarded')
        OR EXISTS (SELECT FROM jar_decanting d WHERE d.jar_id = NEW.jar_id)
        OR EXISTS (SELECT FROM jar_handing h WHERE h.jar_id = NEW.jar_id
            AND NOT EXISTS (SELECT FROM jar_return r WHERE r.jar_id = h.jar_id))) THEN
        RAISE EXCEPTION 'jar % is not here', NEW.jar_id
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'observation_of_jar_here';
    END IF;
    RETURN NEW;
END $$;

-- Why a jar became a sample after it was filled; absent of those that were kept when they were filled. Only of what may still
-- be used.
ALTER TABLE retained_sample ADD COLUMN reason text CHECK (char_length(reason) BETWEEN 1 AND 1000);
CREATE FUNCTION sample_of_usable_batch() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    PERFORM FROM batch WHERE id = NEW.batch_id AND state = 'accepted'
        AND disposition IN ('practice_only', 'quarantine', 'released') FOR SHARE;
    IF NOT FOUND THEN
        RAISE EXCEPTION 'batch % is recalled or discarded', NEW.batch_id
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'sample_of_usable_batch';
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER sample_of_usable_batch BEFORE INSERT ON retained_sample
    FOR EACH ROW EXECUTE FUNCTION sample_of_usable_batch();

GRANT SELECT, INSERT ON jar_decanting TO stillroom_service;
