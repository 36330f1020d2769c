-- Where a jar was decanted, the older tables would count its content twice; the rows go with their table, as the jars do not.
DROP TRIGGER sample_of_usable_batch ON retained_sample;
DROP FUNCTION sample_of_usable_batch();
ALTER TABLE retained_sample DROP COLUMN reason;
CREATE OR REPLACE FUNCTION observation_of_jar_here() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF NEW.corrects_id IS NULL AND (
        EXISTS (SELECT FROM batch WHERE id = NEW.batch_id AND disposition = 'discarded')
        OR EXISTS (SELECT FROM jar_handing h WHERE h.jar_id = NEW.jar_id
            AND NOT EXISTS (SELECT FROM jar_return r WHERE r.jar_id = h.jar_id))) THEN
        RAISE EXCEPTION 'jar % is not here', NEW.jar_id
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'observation_of_jar_here';
    END IF;
    RETURN NEW;
END $$;
CREATE OR REPLACE FUNCTION recall_unaccounted(of uuid) RETURNS bigint LANGUAGE sql STABLE AS $$
    SELECT (SELECT count(*) FROM recall_item i WHERE i.recall_id = $1 AND NOT EXISTS (
            SELECT FROM recall_outcome o WHERE o.recall_id = i.recall_id AND o.item = i.number))
        + (SELECT count(*) FROM recall_item i JOIN jar j ON j.batch_id = i.batch_id
            WHERE i.recall_id = $1 AND NOT EXISTS (
                SELECT FROM recall_jar_outcome o WHERE o.recall_id = i.recall_id AND o.jar_id = j.id))
$$;
CREATE OR REPLACE FUNCTION batch_left(of uuid) RETURNS numeric
    LANGUAGE sql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    SELECT y.grams
        - coalesce((SELECT sum(e.grams) FROM public.batch_entry e
            WHERE e.batch_id = $1 AND e.number > y.number AND e.kind IN ('transfer_loss', 'spill_loss', 'sample')
                AND NOT EXISTS (SELECT FROM public.batch_entry c WHERE c.corrects_id = e.id)), 0)
        - coalesce((SELECT sum(f.jars * f.grams) FROM public.jar_filling f WHERE f.batch_id = $1), 0)
        - coalesce((SELECT sum(m.grams) FROM public.lot l JOIN public.lot_movement m ON m.lot_id = l.id
            WHERE l.batch_id = $1 AND m.kind = 'received'), 0)
    FROM public.batch_entry y
    WHERE y.batch_id = $1 AND y.kind = 'yield'
        AND NOT EXISTS (SELECT FROM public.batch_entry c WHERE c.corrects_id = y.id)
    ORDER BY y.number DESC LIMIT 1
$$;
DROP TRIGGER decanted_no_more ON jar_filling;
DROP FUNCTION decanted_no_more();
DROP TRIGGER jar_handed_or_kept ON jar_decanting;
CREATE OR REPLACE FUNCTION jar_handed_or_kept() RETURNS trigger
    LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    PERFORM FROM public.jar WHERE id = NEW.jar_id FOR NO KEY UPDATE;
    IF EXISTS (SELECT FROM public.retained_sample WHERE jar_id = NEW.jar_id)
        AND EXISTS (SELECT FROM public.jar_handing WHERE jar_id = NEW.jar_id) THEN
        RAISE EXCEPTION 'jar % is a retained sample and would be handed out', NEW.jar_id
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'jar_handed_or_kept';
    END IF;
    RETURN NEW;
END $$;
ALTER TABLE jar_filling DROP COLUMN decanted_from;
DROP TABLE jar_decanting;
DROP FUNCTION jar_decanted_here();
