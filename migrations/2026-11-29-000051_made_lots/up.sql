-- A lot is either of a material, or what a batch of the clinic made: an infused oil, a tincture. The second is used where a
-- formula nests the revision that the batch was made by.
ALTER TABLE batch ADD CONSTRAINT batch_of_revision UNIQUE (id, revision_id);
ALTER TABLE lot ALTER COLUMN material_id DROP NOT NULL;
ALTER TABLE lot
    ADD COLUMN batch_id uuid,
    ADD COLUMN revision_id uuid REFERENCES revision (id);
ALTER TABLE lot
    ADD CONSTRAINT lot_of_batch FOREIGN KEY (batch_id, revision_id) REFERENCES batch (id, revision_id),
    ADD CONSTRAINT lot_of_one CHECK ((material_id IS NULL) = (batch_id IS NOT NULL)
        AND (batch_id IS NULL) = (revision_id IS NULL)),
    -- what was made has no supplier's price, assay or printed date
    ADD CONSTRAINT lot_made CHECK (batch_id IS NULL OR (price IS NULL AND assay IS NULL AND expires IS NULL
        AND converted_by IS NULL));
CREATE INDEX lot_batch ON lot (batch_id, revision_id);
CREATE INDEX lot_revision ON lot (revision_id, keeps_until, id);
CREATE TRIGGER lot_made_never_changes
    BEFORE UPDATE OF batch_id, revision_id ON lot
    FOR EACH ROW EXECUTE FUNCTION columns_never_change('batch_id', 'revision_id');

-- Only an accepted record tells what is in a jar, and what was made to learn is used in nothing.
CREATE FUNCTION lot_of_accepted_batch() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF NOT EXISTS (SELECT FROM batch WHERE id = NEW.batch_id AND state = 'accepted'
            AND disposition IN ('quarantine', 'released')) THEN
        RAISE EXCEPTION 'batch % is not accepted, or is not to be used', NEW.batch_id
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'lot_of_accepted_batch';
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER lot_of_accepted_batch BEFORE INSERT ON lot
    FOR EACH ROW WHEN (NEW.batch_id IS NOT NULL) EXECUTE FUNCTION lot_of_accepted_batch();

-- All lots of a batch together hold no more than its recorded yield. The yield is read here, behind the gate.
CREATE FUNCTION lot_made_no_more() RETURNS trigger
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
CREATE TRIGGER lot_made_no_more AFTER INSERT ON lot_movement
    FOR EACH ROW WHEN (NEW.kind = 'received') EXECUTE FUNCTION lot_made_no_more();

-- Nobody lets in alone what they made: a clinic that has no second person says so in its policy, and the decision says why.
ALTER TABLE lot_decision
    -- true, or absent
    ADD COLUMN own_decision boolean;
ALTER TABLE lot_decision
    ADD CONSTRAINT lot_decision_own CHECK (own_decision IS NULL OR own_decision AND reason IS NOT NULL);
CREATE FUNCTION lot_decision_says_whose() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF coalesce(NEW.own_decision, false) <> (NEW.decision = 'confirmed' AND EXISTS (
            SELECT FROM lot l JOIN batch b ON b.id = l.batch_id WHERE l.id = NEW.lot_id AND b.maker_id = NEW.by_id)) THEN
        RAISE EXCEPTION 'the decision about lot % does not say whether its maker took it', NEW.lot_id
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'lot_decision_says_whose';
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER lot_decision_says_whose BEFORE INSERT ON lot_decision
    FOR EACH ROW EXECUTE FUNCTION lot_decision_says_whose();
