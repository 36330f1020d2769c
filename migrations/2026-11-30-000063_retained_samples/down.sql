CREATE OR REPLACE FUNCTION jar_handed_released() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    PERFORM FROM jar j JOIN jar_filling f ON f.id = j.filling_id JOIN batch b ON b.id = j.batch_id
        WHERE j.id = NEW.jar_id AND b.disposition = 'released' AND f.use_by >= NEW.on_day FOR SHARE OF b;
    IF NOT FOUND THEN
        RAISE EXCEPTION 'jar % is not released, or past its date', NEW.jar_id
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'jar_handed_released';
    END IF;
    RETURN NEW;
END $$;
CREATE OR REPLACE FUNCTION jar_of_accepted_batch() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF NOT EXISTS (SELECT FROM batch WHERE id = NEW.batch_id AND state = 'accepted'
            AND disposition IN ('practice_only', 'quarantine', 'released')) THEN
        RAISE EXCEPTION 'batch % is not accepted, or is not to be used', NEW.batch_id
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'jar_of_accepted_batch';
    END IF;
    IF NOT coalesce((SELECT CASE WHEN l.use_by IS NULL THEN NEW.use_by IS NULL ELSE NEW.use_by <= l.use_by END
            FROM batch_label l WHERE l.batch_id = NEW.batch_id ORDER BY l.number DESC LIMIT 1), false) THEN
        RAISE EXCEPTION 'the jars of batch % would keep longer than its label says', NEW.batch_id
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'jar_keeps_no_longer';
    END IF;
    RETURN NEW;
END $$;
DROP TRIGGER jar_handed_or_kept ON jar_handing;
DROP TABLE batch_shortening;
DROP TABLE batch_observation;
DROP TABLE retained_sample;
DROP FUNCTION jar_handed_or_kept();
DROP FUNCTION observation_of_jar_here();
DROP FUNCTION batch_only_shortened();
DROP FUNCTION batch_last_day(uuid);
ALTER TABLE jar DROP CONSTRAINT jar_of_batch;
