-- The words of a report are removed also after its case ended, since they may name somebody. The case has another version
-- then, and nothing else of it changes.
CREATE OR REPLACE FUNCTION reaction_case_stays_ended() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF OLD.state <> 'open' AND to_jsonb(NEW) - 'version' IS DISTINCT FROM to_jsonb(OLD) - 'version'
        AND NOT (OLD.state = 'joined' AND NEW.state = 'joined'
            AND EXISTS (SELECT FROM reaction_case t WHERE t.id = OLD.joined_id AND t.joined_id = NEW.joined_id)) THEN
        RAISE EXCEPTION 'case % has ended', OLD.id
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'reaction_case_stays_ended';
    END IF;
    IF NEW.state = 'joined' AND NEW.joined_id IS DISTINCT FROM OLD.joined_id
        AND NOT EXISTS (SELECT FROM reaction_case t WHERE t.id = NEW.joined_id AND t.state = 'open') THEN
        RAISE EXCEPTION 'case % is not open', NEW.joined_id
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'reaction_case_joins_open';
    END IF;
    RETURN NEW;
END $$;
