DROP TRIGGER batch_was_decided ON batch;
DROP FUNCTION batch_was_decided();
DROP TABLE jar;
DROP TABLE jar_filling;
DROP FUNCTION jar_no_more();
DROP FUNCTION jar_of_accepted_batch();
DROP TABLE batch_label;
DROP TABLE batch_decision_caution;
DROP TABLE batch_decision;
DROP FUNCTION batch_decision_follows();
CREATE OR REPLACE FUNCTION lot_made_no_more() RETURNS trigger
    LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    of uuid;
    came numeric;
    shelved numeric;
BEGIN
    SELECT batch_id INTO of FROM public.lot WHERE id = NEW.lot_id;
    IF of IS NULL THEN
        RETURN NEW;
    END IF;
    PERFORM FROM public.batch WHERE id = of FOR NO KEY UPDATE;
    SELECT e.grams INTO came FROM public.batch_entry e
        WHERE e.batch_id = of AND e.kind = 'yield'
            AND NOT EXISTS (SELECT FROM public.batch_entry c WHERE c.corrects_id = e.id)
        ORDER BY e.number DESC LIMIT 1;
    SELECT sum(m.grams) INTO shelved FROM public.lot l JOIN public.lot_movement m ON m.lot_id = l.id
        WHERE l.batch_id = of AND m.kind = 'received';
    IF came IS NULL OR shelved > came THEN
        RAISE EXCEPTION 'the lots of batch % would hold more than it yielded', of
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'lot_made_no_more';
    END IF;
    RETURN NEW;
END $$;
DROP FUNCTION batch_left(uuid);
