-- Everybody who made a batch: who opened it, and whom it was handed over to. Only triggers write it.
CREATE TABLE maker_of_batch (
    batch_id uuid NOT NULL REFERENCES batch (id),
    person_id uuid NOT NULL REFERENCES person (id),
    PRIMARY KEY (batch_id, person_id)
);
CREATE INDEX maker_of_batch_person ON maker_of_batch (person_id);
INSERT INTO maker_of_batch SELECT id, maker_id FROM batch;

CREATE FUNCTION batch_has_maker() RETURNS trigger
    LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    INSERT INTO public.maker_of_batch VALUES (NEW.id, NEW.maker_id) ON CONFLICT DO NOTHING;
    RETURN NEW;
END $$;
CREATE TRIGGER batch_has_maker AFTER INSERT OR UPDATE OF maker_id ON batch
    FOR EACH ROW EXECUTE FUNCTION batch_has_maker();

-- Whether somebody made a batch, or a part of it.
CREATE FUNCTION batch_made_by(batch uuid, person uuid) RETURNS boolean LANGUAGE sql STABLE AS $$
    SELECT EXISTS (SELECT FROM public.maker_of_batch m WHERE m.batch_id = $1 AND m.person_id = $2)
$$;

-- That a batch was offered to somebody else, by who has it or by an instructor for somebody who is absent.
CREATE TABLE batch_handover (
    id uuid PRIMARY KEY,
    batch_id uuid NOT NULL,
    number integer NOT NULL CHECK (number > 0),
    from_id uuid NOT NULL,
    to_id uuid NOT NULL REFERENCES person (id),
    reason text CHECK (char_length(reason) BETWEEN 1 AND 1000),
    by_id uuid NOT NULL REFERENCES person (id),
    at timestamptz NOT NULL,
    CONSTRAINT batch_handover_number UNIQUE (batch_id, number),
    CONSTRAINT batch_handover_of_batch UNIQUE (id, batch_id),
    CONSTRAINT batch_handover_from FOREIGN KEY (batch_id, from_id) REFERENCES maker_of_batch (batch_id, person_id),
    CONSTRAINT batch_handover_another CHECK (to_id <> from_id),
    -- whoever hands over what another has says why
    CONSTRAINT batch_handover_says_why CHECK (by_id = from_id OR reason IS NOT NULL)
);
CREATE INDEX batch_handover_maker ON batch_handover (batch_id, from_id);
CREATE INDEX batch_handover_to ON batch_handover (to_id);
CREATE INDEX batch_handover_by ON batch_handover (by_id);

-- What became of an offer, once.
CREATE TABLE batch_handover_answer (
    handover_id uuid PRIMARY KEY,
    batch_id uuid NOT NULL,
    answer text NOT NULL CHECK (answer IN ('accepted', 'declined', 'withdrawn')),
    by_id uuid NOT NULL REFERENCES person (id),
    at timestamptz NOT NULL,
    CONSTRAINT batch_handover_answer_of FOREIGN KEY (handover_id, batch_id) REFERENCES batch_handover (id, batch_id)
);
CREATE INDEX batch_handover_answer_batch ON batch_handover_answer (handover_id, batch_id);
CREATE INDEX batch_handover_answer_by ON batch_handover_answer (by_id);

-- Whether somebody may make a revision: a member of its library, who has acknowledged its cautions to make it.
CREATE FUNCTION may_make_revision(person uuid, revision uuid, now timestamptz) RETURNS boolean LANGUAGE sql STABLE AS $$
    SELECT EXISTS (SELECT FROM public.release_grant g
        JOIN public.revision r ON r.id = g.revision_id AND r.digest = g.digest AND r.state = 'approved'
        JOIN public.formula f ON f.id = r.formula_id
        JOIN public.library_member m ON m.library_id = f.library_id AND m.holder_id = g.holder_id
        WHERE g.holder_id = $1 AND g.revision_id = $2 AND g.purpose = 'make' AND g.valid_until > $3)
$$;

-- Only who has a batch loses it, while it is made or mended, to one who may make it. What counts for an assignment is its
-- student's own, and an offer waits for its answer.
CREATE FUNCTION handover_of_making() RETURNS trigger
    LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    PERFORM FROM public.batch WHERE id = NEW.batch_id AND maker_id = NEW.from_id
        AND state IN ('planned', 'making', 'returned') FOR NO KEY UPDATE;
    IF NOT FOUND
        OR NOT public.may_make_revision(NEW.to_id, (SELECT revision_id FROM public.batch WHERE id = NEW.batch_id), NEW.at)
        OR EXISTS (SELECT FROM public.work_batch w WHERE w.batch_id = NEW.batch_id)
        OR EXISTS (SELECT FROM public.batch_handover h WHERE h.batch_id = NEW.batch_id
            AND NOT EXISTS (SELECT FROM public.batch_handover_answer a WHERE a.handover_id = h.id)) THEN
        RAISE EXCEPTION 'batch % cannot be handed over', NEW.batch_id
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'handover_of_making';
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER handover_of_making BEFORE INSERT ON batch_handover
    FOR EACH ROW EXECUTE FUNCTION handover_of_making();

-- An offer is accepted or declined by whom it was made to, and withdrawn by others. Accepting it is what gives the batch over.
CREATE FUNCTION handover_answered() RETURNS trigger
    LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    offer public.batch_handover;
BEGIN
    SELECT * INTO offer FROM public.batch_handover WHERE id = NEW.handover_id;
    PERFORM FROM public.batch WHERE id = offer.batch_id AND maker_id = offer.from_id FOR NO KEY UPDATE;
    IF NOT FOUND OR (NEW.answer = 'withdrawn') = (NEW.by_id = offer.to_id)
        OR NEW.answer = 'accepted' AND (
            NOT EXISTS (SELECT FROM public.batch b WHERE b.id = offer.batch_id AND b.state IN ('planned', 'making', 'returned'))
            OR EXISTS (SELECT FROM public.work_batch w WHERE w.batch_id = offer.batch_id)
            OR NOT public.may_make_revision(offer.to_id, (SELECT revision_id FROM public.batch WHERE id = offer.batch_id),
                NEW.at)) THEN
        RAISE EXCEPTION 'the offer % cannot be %', NEW.handover_id, NEW.answer
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'handover_answered';
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER handover_answered BEFORE INSERT ON batch_handover_answer
    FOR EACH ROW EXECUTE FUNCTION handover_answered();
CREATE FUNCTION handover_gives() RETURNS trigger
    LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    UPDATE public.batch b SET maker_id = h.to_id FROM public.batch_handover h
    WHERE h.id = NEW.handover_id AND b.id = h.batch_id;
    RETURN NEW;
END $$;
CREATE TRIGGER handover_gives AFTER INSERT ON batch_handover_answer
    FOR EACH ROW WHEN (NEW.answer = 'accepted') EXECUTE FUNCTION handover_gives();

-- Nothing else gives a batch to somebody else. What refers to its maker from here on refers to one of its makers.
CREATE OR REPLACE TRIGGER batch_never_changes BEFORE UPDATE OF id, number, revision_id, revision_digest, caution_digest, policy_version, opened_at ON batch
    FOR EACH ROW EXECUTE FUNCTION columns_never_change('id', 'number', 'revision_id', 'revision_digest', 'caution_digest', 'policy_version', 'opened_at');
CREATE FUNCTION batch_was_handed_over() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF NOT EXISTS (SELECT FROM public.batch_handover h JOIN public.batch_handover_answer a ON a.handover_id = h.id
            WHERE h.batch_id = NEW.id AND h.from_id = OLD.maker_id AND h.to_id = NEW.maker_id AND a.answer = 'accepted'
                AND h.number = (SELECT max(l.number) FROM public.batch_handover l WHERE l.batch_id = NEW.id)) THEN
        RAISE EXCEPTION 'nobody has handed batch % over', NEW.id
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'batch_was_handed_over';
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER batch_was_handed_over BEFORE UPDATE OF maker_id ON batch
    FOR EACH ROW WHEN (NEW.maker_id <> OLD.maker_id) EXECUTE FUNCTION batch_was_handed_over();

ALTER TABLE batch_entry DROP CONSTRAINT batch_entry_batch_id_by_id_fkey,
    ADD CONSTRAINT batch_entry_by_maker FOREIGN KEY (batch_id, by_id) REFERENCES maker_of_batch (batch_id, person_id);
ALTER TABLE batch_check DROP CONSTRAINT batch_check_by_maker,
    ADD CONSTRAINT batch_check_by_maker FOREIGN KEY (batch_id, by_id) REFERENCES maker_of_batch (batch_id, person_id);
ALTER TABLE batch_pause DROP CONSTRAINT batch_pause_by_maker,
    ADD CONSTRAINT batch_pause_by_maker FOREIGN KEY (batch_id, by_id) REFERENCES maker_of_batch (batch_id, person_id);
ALTER TABLE batch_resumption DROP CONSTRAINT batch_resumption_by_maker,
    ADD CONSTRAINT batch_resumption_by_maker FOREIGN KEY (batch_id, by_id) REFERENCES maker_of_batch (batch_id, person_id);
ALTER TABLE batch_look_plan DROP CONSTRAINT batch_look_plan_by_maker,
    ADD CONSTRAINT batch_look_plan_by_maker FOREIGN KEY (batch_id, by_id) REFERENCES maker_of_batch (batch_id, person_id);
ALTER TABLE batch_photograph DROP CONSTRAINT batch_photograph_of_maker,
    ADD CONSTRAINT batch_photograph_of_maker FOREIGN KEY (batch_id, by_id) REFERENCES maker_of_batch (batch_id, person_id);
ALTER TABLE review DROP CONSTRAINT review_batch_id_maker_id_fkey,
    ADD CONSTRAINT review_of_maker FOREIGN KEY (batch_id, maker_id) REFERENCES maker_of_batch (batch_id, person_id);
ALTER TABLE batch_hold_release DROP CONSTRAINT batch_hold_release_of_maker,
    ADD CONSTRAINT batch_hold_release_of_maker FOREIGN KEY (batch_id, maker_id) REFERENCES maker_of_batch (batch_id, person_id);
ALTER TABLE batch_authorisation DROP CONSTRAINT batch_authorisation_of_maker,
    ADD CONSTRAINT batch_authorisation_of_maker FOREIGN KEY (batch_id, maker_id) REFERENCES maker_of_batch (batch_id, person_id);
ALTER TABLE batch_decision DROP CONSTRAINT batch_decision_of_maker,
    ADD CONSTRAINT batch_decision_of_maker FOREIGN KEY (batch_id, maker_id) REFERENCES maker_of_batch (batch_id, person_id);

-- Only who has a batch writes into its record.
CREATE FUNCTION written_by_maker() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF NOT EXISTS (SELECT FROM public.batch b WHERE b.id = NEW.batch_id AND b.maker_id = NEW.by_id) THEN
        RAISE EXCEPTION 'batch % is not made by %', NEW.batch_id, NEW.by_id
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'written_by_maker';
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER written_by_maker BEFORE INSERT ON batch_entry FOR EACH ROW EXECUTE FUNCTION written_by_maker();
CREATE TRIGGER written_by_maker BEFORE INSERT ON batch_photograph FOR EACH ROW EXECUTE FUNCTION written_by_maker();
CREATE TRIGGER written_by_maker BEFORE INSERT ON batch_check FOR EACH ROW EXECUTE FUNCTION written_by_maker();
CREATE TRIGGER written_by_maker BEFORE INSERT ON batch_pause FOR EACH ROW EXECUTE FUNCTION written_by_maker();
CREATE TRIGGER written_by_maker BEFORE INSERT ON batch_resumption FOR EACH ROW EXECUTE FUNCTION written_by_maker();
CREATE TRIGGER written_by_maker BEFORE INSERT ON batch_look_plan FOR EACH ROW EXECUTE FUNCTION written_by_maker();

-- Nobody decides alone about what they made, or a part of it: the row says so, as it does of a sole maker. The arguments name
-- the column with who decides, and the one that says that they made it.
CREATE FUNCTION decided_by_another() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE
    given jsonb := to_jsonb(NEW);
BEGIN
    IF (given ->> TG_ARGV[1])::boolean <> batch_made_by(NEW.batch_id, (given ->> TG_ARGV[0])::uuid) THEN
        RAISE EXCEPTION 'whether a maker of batch % decided is said wrongly', NEW.batch_id
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'decided_by_another';
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER decided_by_another BEFORE INSERT ON review
    FOR EACH ROW EXECUTE FUNCTION decided_by_another('reviewer_id', 'own_review');
CREATE TRIGGER decided_by_another BEFORE INSERT ON batch_hold_release
    FOR EACH ROW EXECUTE FUNCTION decided_by_another('by_id', 'own_release');
CREATE TRIGGER decided_by_another BEFORE INSERT ON batch_authorisation
    FOR EACH ROW EXECUTE FUNCTION decided_by_another('by_id', 'own_authorisation');
ALTER TABLE batch_decision DROP CONSTRAINT batch_decision_own,
    ADD CONSTRAINT batch_decision_own CHECK (NOT own_decision OR decision = 'released');
CREATE TRIGGER decided_by_another BEFORE INSERT ON batch_decision
    FOR EACH ROW WHEN (NEW.decision = 'released') EXECUTE FUNCTION decided_by_another('by_id', 'own_decision');
CREATE OR REPLACE FUNCTION lot_decision_says_whose() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF coalesce(NEW.own_decision, false) <> (NEW.decision = 'confirmed' AND EXISTS (
            SELECT FROM lot l WHERE l.id = NEW.lot_id AND batch_made_by(l.batch_id, NEW.by_id))) THEN
        RAISE EXCEPTION 'the decision about lot % does not say whether its maker took it', NEW.lot_id
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'lot_decision_says_whose';
    END IF;
    RETURN NEW;
END $$;

-- Whoever had a batch takes back no photograph that was handed in.
CREATE OR REPLACE FUNCTION handed_photograph_stays() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    PERFORM FROM batch b JOIN batch_photograph p ON p.batch_id = b.id
        WHERE p.id = NEW.photograph_id AND batch_made_by(b.id, NEW.by_id) AND b.last_submission > p.after_submission
        FOR SHARE OF b;
    IF FOUND THEN
        RAISE EXCEPTION 'photograph % was handed in', NEW.photograph_id
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'handed_photograph_stays';
    END IF;
    RETURN NEW;
END $$;

-- What several made is the work of none of them alone, so it counts for no assignment; nor does what is offered to another.
CREATE FUNCTION work_batch_of_one() RETURNS trigger
    LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    PERFORM FROM public.batch WHERE id = NEW.batch_id FOR NO KEY UPDATE;
    IF (SELECT count(*) FROM public.maker_of_batch m WHERE m.batch_id = NEW.batch_id) > 1 THEN
        RAISE EXCEPTION 'batch % was handed over', NEW.batch_id
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'work_batch_of_one';
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER work_batch_of_one BEFORE INSERT ON work_batch FOR EACH ROW EXECUTE FUNCTION work_batch_of_one();

GRANT SELECT ON maker_of_batch TO stillroom_service;
GRANT SELECT, INSERT ON batch_handover, batch_handover_answer TO stillroom_service;
