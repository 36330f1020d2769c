CREATE OR REPLACE FUNCTION recall_closes_accounted() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF OLD.state = 'closed' THEN
        RAISE EXCEPTION 'recall % is closed', OLD.id
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'recall_stays_closed';
    END IF;
    IF NEW.state = 'closed' AND NEW.closed_because IS NULL AND EXISTS (
            SELECT FROM recall_item i WHERE i.recall_id = NEW.id AND NOT EXISTS (
                SELECT FROM recall_outcome o WHERE o.recall_id = i.recall_id AND o.item = i.number)) THEN
        RAISE EXCEPTION 'recall % has items that are not accounted for', NEW.id
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'recall_closes_accounted';
    END IF;
    RETURN NEW;
END $$;
DROP FUNCTION recall_unaccounted(uuid);
DROP TABLE recall_jar_outcome;
DROP FUNCTION recall_jar_of_item();
DROP TABLE jar_return;
DROP TABLE jar_handing;
DROP FUNCTION jar_handed_released();
