-- Where a batch was handed over, its former makers cannot be named by the older tables, and this is refused: nothing is lost.
DROP TRIGGER work_batch_of_one ON work_batch;
DROP FUNCTION work_batch_of_one();
CREATE OR REPLACE FUNCTION handed_photograph_stays() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    PERFORM FROM batch b JOIN batch_photograph p ON p.batch_id = b.id
        WHERE p.id = NEW.photograph_id AND b.maker_id = NEW.by_id AND b.last_submission > p.after_submission FOR SHARE OF b;
    IF FOUND THEN
        RAISE EXCEPTION 'photograph % was handed in', NEW.photograph_id
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'handed_photograph_stays';
    END IF;
    RETURN NEW;
END $$;
CREATE OR REPLACE FUNCTION lot_decision_says_whose() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF coalesce(NEW.own_decision, false) <> (NEW.decision = 'confirmed' AND EXISTS (
            SELECT FROM lot l JOIN batch b ON b.id = l.batch_id WHERE l.id = NEW.lot_id AND b.maker_id = NEW.by_id)) THEN
        RAISE EXCEPTION 'the decision about lot % does not say whether its maker took it', NEW.lot_id
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'lot_decision_says_whose';
    END IF;
    RETURN NEW;
END $$;
DROP TRIGGER decided_by_another ON batch_decision;
ALTER TABLE batch_decision DROP CONSTRAINT batch_decision_own,
    ADD CONSTRAINT batch_decision_own CHECK (own_decision = (decision = 'released' AND by_id = maker_id));
DROP TRIGGER decided_by_another ON batch_authorisation;
DROP TRIGGER decided_by_another ON batch_hold_release;
DROP TRIGGER decided_by_another ON review;
DROP FUNCTION decided_by_another();
DROP TRIGGER written_by_maker ON batch_look_plan;
DROP TRIGGER written_by_maker ON batch_resumption;
DROP TRIGGER written_by_maker ON batch_pause;
DROP TRIGGER written_by_maker ON batch_check;
DROP TRIGGER written_by_maker ON batch_photograph;
DROP TRIGGER written_by_maker ON batch_entry;
DROP FUNCTION written_by_maker();
ALTER TABLE batch_decision DROP CONSTRAINT batch_decision_of_maker,
    ADD CONSTRAINT batch_decision_of_maker FOREIGN KEY (batch_id, maker_id) REFERENCES batch (id, maker_id);
ALTER TABLE batch_authorisation DROP CONSTRAINT batch_authorisation_of_maker,
    ADD CONSTRAINT batch_authorisation_of_maker FOREIGN KEY (batch_id, maker_id) REFERENCES batch (id, maker_id);
ALTER TABLE batch_hold_release DROP CONSTRAINT batch_hold_release_of_maker,
    ADD CONSTRAINT batch_hold_release_of_maker FOREIGN KEY (batch_id, maker_id) REFERENCES batch (id, maker_id);
ALTER TABLE batch_photograph DROP CONSTRAINT batch_photograph_of_maker,
    ADD CONSTRAINT batch_photograph_of_maker FOREIGN KEY (batch_id, by_id) REFERENCES batch (id, maker_id);
ALTER TABLE review DROP CONSTRAINT review_of_maker,
    ADD CONSTRAINT review_batch_id_maker_id_fkey FOREIGN KEY (batch_id, maker_id) REFERENCES batch (id, maker_id);
ALTER TABLE batch_look_plan DROP CONSTRAINT batch_look_plan_by_maker,
    ADD CONSTRAINT batch_look_plan_by_maker FOREIGN KEY (batch_id, by_id) REFERENCES batch (id, maker_id);
ALTER TABLE batch_resumption DROP CONSTRAINT batch_resumption_by_maker,
    ADD CONSTRAINT batch_resumption_by_maker FOREIGN KEY (batch_id, by_id) REFERENCES batch (id, maker_id);
ALTER TABLE batch_pause DROP CONSTRAINT batch_pause_by_maker,
    ADD CONSTRAINT batch_pause_by_maker FOREIGN KEY (batch_id, by_id) REFERENCES batch (id, maker_id);
ALTER TABLE batch_check DROP CONSTRAINT batch_check_by_maker,
    ADD CONSTRAINT batch_check_by_maker FOREIGN KEY (batch_id, by_id) REFERENCES batch (id, maker_id);
ALTER TABLE batch_entry DROP CONSTRAINT batch_entry_by_maker,
    ADD CONSTRAINT batch_entry_batch_id_by_id_fkey FOREIGN KEY (batch_id, by_id) REFERENCES batch (id, maker_id);
DROP TRIGGER batch_was_handed_over ON batch;
DROP FUNCTION batch_was_handed_over();
DROP TRIGGER batch_never_changes ON batch;
CREATE TRIGGER batch_never_changes BEFORE UPDATE OF id, number, revision_id, revision_digest, caution_digest, policy_version, maker_id, opened_at ON batch
    FOR EACH ROW EXECUTE FUNCTION columns_never_change('id', 'number', 'revision_id', 'revision_digest', 'caution_digest', 'policy_version', 'maker_id', 'opened_at');
DROP TABLE batch_handover_answer;
DROP TABLE batch_handover;
DROP FUNCTION handover_gives();
DROP FUNCTION handover_answered();
DROP FUNCTION handover_of_making();
DROP FUNCTION may_make_revision(uuid, uuid, timestamptz);
DROP TRIGGER batch_has_maker ON batch;
DROP FUNCTION batch_has_maker();
DROP FUNCTION batch_made_by(uuid, uuid);
DROP TABLE maker_of_batch;
