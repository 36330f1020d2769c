-- A lot or a batch that must not be used or given out any more. What was recalled is thrown away or stays recalled.
ALTER TABLE lot DROP CONSTRAINT lot_state_check;
ALTER TABLE lot ADD CONSTRAINT lot_state_check CHECK (state IN ('quarantine', 'usable', 'discarded', 'recalled'));
ALTER TABLE lot_decision DROP CONSTRAINT lot_decision_decision_check;
ALTER TABLE lot_decision ADD CONSTRAINT lot_decision_decision_check
    CHECK (decision IN ('confirmed', 'not_confirmed', 'quarantined', 'discarded', 'recalled'));
-- A batch is recalled in whatever state its record is: what is being made of a bad herb, too.
ALTER TABLE batch DROP CONSTRAINT batch_check;
ALTER TABLE batch ADD CONSTRAINT batch_released_when_accepted
    CHECK (disposition IN ('practice_only', 'quarantine', 'recalled', 'discarded') OR state = 'accepted');
CREATE FUNCTION stays_recalled() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    RAISE EXCEPTION '% % was recalled', TG_TABLE_NAME, OLD.id
        USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = TG_TABLE_NAME || '_stays_recalled';
END $$;
CREATE TRIGGER lot_stays_recalled BEFORE UPDATE OF state ON lot
    FOR EACH ROW WHEN (OLD.state = 'recalled' AND NEW.state NOT IN ('recalled', 'discarded'))
    EXECUTE FUNCTION stays_recalled();
CREATE TRIGGER batch_stays_recalled BEFORE UPDATE OF disposition ON batch
    FOR EACH ROW WHEN (OLD.disposition = 'recalled' AND NEW.disposition NOT IN ('recalled', 'discarded'))
    EXECUTE FUNCTION stays_recalled();

-- A recall: its cause, why, and until when it was open. It never opens again.
CREATE TABLE recall (
    id uuid PRIMARY KEY,
    cause text NOT NULL CHECK (cause IN ('lot', 'batch', 'formula', 'material')),
    lot_id uuid REFERENCES lot (id),
    batch_id uuid REFERENCES batch (id),
    formula_id uuid REFERENCES formula (id),
    material_id uuid REFERENCES material (id),
    reason text NOT NULL CHECK (char_length(reason) BETWEEN 1 AND 1000),
    state text NOT NULL CHECK (state IN ('open', 'closed')),
    version bigint NOT NULL,
    last_outcome integer NOT NULL CHECK (last_outcome >= 0),
    by_id uuid NOT NULL REFERENCES person (id),
    at timestamptz NOT NULL,
    closed_by uuid REFERENCES person (id),
    closed_at timestamptz,
    -- why it was closed though something was not accounted for
    closed_because text CHECK (char_length(closed_because) BETWEEN 1 AND 1000),
    CONSTRAINT recall_of_one CHECK (num_nonnulls(lot_id, batch_id, formula_id, material_id) = 1
        AND num_nonnulls(CASE cause WHEN 'lot' THEN lot_id WHEN 'batch' THEN batch_id WHEN 'formula' THEN formula_id
            ELSE material_id END) = 1),
    CONSTRAINT recall_closed CHECK ((state = 'closed') = (closed_at IS NOT NULL)
        AND (closed_at IS NULL) = (closed_by IS NULL) AND (closed_at IS NOT NULL OR closed_because IS NULL))
);
CREATE INDEX recall_lot ON recall (lot_id);
CREATE INDEX recall_batch ON recall (batch_id);
CREATE INDEX recall_formula ON recall (formula_id);
CREATE INDEX recall_material ON recall (material_id);
CREATE INDEX recall_by ON recall (by_id);
CREATE INDEX recall_closed_by ON recall (closed_by);
CREATE INDEX recall_state ON recall (state, id);
CREATE TRIGGER recall_never_changes
    BEFORE UPDATE OF id, cause, lot_id, batch_id, formula_id, material_id, reason, by_id, at ON recall
    FOR EACH ROW EXECUTE FUNCTION columns_never_change('id', 'cause', 'lot_id', 'batch_id', 'formula_id', 'material_id',
        'reason', 'by_id', 'at');

-- What a recall reached: lots and batches, each once.
CREATE TABLE recall_item (
    recall_id uuid NOT NULL REFERENCES recall (id),
    number integer NOT NULL CHECK (number > 0),
    lot_id uuid REFERENCES lot (id),
    batch_id uuid REFERENCES batch (id),
    PRIMARY KEY (recall_id, number),
    CONSTRAINT recall_item_lot UNIQUE (recall_id, lot_id),
    CONSTRAINT recall_item_batch UNIQUE (recall_id, batch_id),
    CONSTRAINT recall_item_one CHECK (num_nonnulls(lot_id, batch_id) = 1)
);
CREATE INDEX recall_item_of_lot ON recall_item (lot_id);
CREATE INDEX recall_item_of_batch ON recall_item (batch_id);

-- What came of an item. The last one counts; those before it stay.
CREATE TABLE recall_outcome (
    id uuid PRIMARY KEY,
    recall_id uuid NOT NULL,
    item integer NOT NULL,
    number integer NOT NULL CHECK (number > 0),
    outcome text NOT NULL CHECK (outcome IN ('returned', 'destroyed', 'nothing_left', 'not_found')),
    note text CHECK (char_length(note) BETWEEN 1 AND 1000),
    by_id uuid NOT NULL REFERENCES person (id),
    at timestamptz NOT NULL,
    CONSTRAINT recall_outcome_once UNIQUE (recall_id, number),
    FOREIGN KEY (recall_id, item) REFERENCES recall_item (recall_id, number)
);
CREATE INDEX recall_outcome_item ON recall_outcome (recall_id, item, number);
CREATE INDEX recall_outcome_by ON recall_outcome (by_id);

-- Nothing is noted in a closed recall, and none is closed over what is not accounted for, unless somebody says why.
CREATE FUNCTION recall_outcome_while_open() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    PERFORM FROM recall WHERE id = NEW.recall_id AND state = 'open' FOR SHARE;
    IF NOT FOUND THEN
        RAISE EXCEPTION 'recall % is closed', NEW.recall_id
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'recall_outcome_while_open';
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER recall_outcome_while_open BEFORE INSERT ON recall_outcome
    FOR EACH ROW EXECUTE FUNCTION recall_outcome_while_open();
CREATE FUNCTION recall_closes_accounted() RETURNS trigger LANGUAGE plpgsql AS $$
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
CREATE TRIGGER recall_closes_accounted BEFORE UPDATE ON recall
    FOR EACH ROW EXECUTE FUNCTION recall_closes_accounted();

GRANT SELECT, INSERT ON recall, recall_item, recall_outcome TO stillroom_service;
GRANT UPDATE (state, version, last_outcome, closed_by, closed_at, closed_because) ON recall TO stillroom_service;
