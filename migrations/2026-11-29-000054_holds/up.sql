-- A hold: a step after which the maker waits until a second person has released it. What is released is the step of a batch,
-- once; a correction of the entry that finished the step takes nothing back.
CREATE TABLE batch_hold_release (
    id uuid PRIMARY KEY,
    batch_id uuid NOT NULL,
    maker_id uuid NOT NULL,
    step integer NOT NULL CHECK (step > 0),
    by_id uuid NOT NULL REFERENCES person (id),
    own_release boolean NOT NULL,
    at timestamptz NOT NULL,
    CONSTRAINT batch_hold_release_once UNIQUE (batch_id, step),
    CONSTRAINT batch_hold_release_of_maker FOREIGN KEY (batch_id, maker_id) REFERENCES batch (id, maker_id),
    -- a second person; the maker only where the policy has none
    CONSTRAINT batch_hold_release_another CHECK (by_id <> maker_id OR own_release)
);
CREATE INDEX batch_hold_release_maker ON batch_hold_release (batch_id, maker_id);
CREATE INDEX batch_hold_release_by ON batch_hold_release (by_id);

-- The steps of a batch that are recorded as done, by the entries that count. An entry that is being corrected counts no more.
CREATE FUNCTION batch_steps_done(batch uuid, corrects uuid) RETURNS SETOF integer LANGUAGE sql STABLE AS $$
    SELECT e.step FROM batch_entry e
    WHERE e.batch_id = $1 AND e.kind = 'step_done' AND e.id IS DISTINCT FROM $2
        AND NOT EXISTS (SELECT FROM batch_entry n WHERE n.corrects_id = e.id)
$$;

-- What stands in the way of a step: an earlier step that is not done ('order'), unless the method lets this one be done in any
-- order, or an earlier hold that nobody has released ('hold'). Batches that were opened before holds were released have
-- neither. A correction that stays with its step goes nowhere.
CREATE FUNCTION step_barred(batch uuid, kind text, of_step integer, corrects uuid)
    RETURNS TABLE (why text, by_step integer) LANGUAGE sql STABLE AS $$
    WITH method AS (
        SELECT m.number::integer AS number, coalesce((m.step ->> 'hold')::boolean, false) AS hold,
            coalesce((m.step ->> 'any_order')::boolean, false) AS any_order
        FROM batch b JOIN batch_recipe r ON r.batch_id = b.id,
            jsonb_array_elements(r.recipe::jsonb -> 'method') WITH ORDINALITY AS m (step, number)
        WHERE b.id = $1 AND b.checks_asked
            AND NOT EXISTS (SELECT FROM batch_entry e WHERE e.id = $4 AND e.step = $3))
    SELECT found.why, found.number FROM (
        SELECT 'order' AS why, m.number FROM method m
        WHERE $2 = 'step_done' AND m.number < $3 AND m.number NOT IN (SELECT batch_steps_done($1, $4))
            AND NOT EXISTS (SELECT FROM method own WHERE own.number = $3 AND own.any_order)
        UNION ALL
        SELECT 'hold', m.number FROM method m
        WHERE m.hold AND m.number < $3
            AND NOT EXISTS (SELECT FROM batch_hold_release h WHERE h.batch_id = $1 AND h.step = m.number)
    ) found
    -- of one step, that it is not done comes before that it is not released
    ORDER BY found.number, found.why DESC LIMIT 1
$$;

CREATE FUNCTION step_goes_on() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF EXISTS (SELECT FROM step_barred(NEW.batch_id, NEW.kind, NEW.step, NEW.corrects_id)) THEN
        RAISE EXCEPTION 'step % of batch % comes too early', NEW.step, NEW.batch_id
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'step_goes_on';
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER step_goes_on BEFORE INSERT ON batch_entry
    FOR EACH ROW WHEN (NEW.kind IN ('step_done', 'temperature')) EXECUTE FUNCTION step_goes_on();

-- Only what the method holds is released, and only when it is done.
CREATE FUNCTION hold_is_done() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF (SELECT (r.recipe::jsonb -> 'method' -> (NEW.step - 1) ->> 'hold')::boolean FROM batch_recipe r
            WHERE r.batch_id = NEW.batch_id) IS NOT TRUE
        OR NEW.step NOT IN (SELECT batch_steps_done(NEW.batch_id, NULL)) THEN
        RAISE EXCEPTION 'step % of batch % is no hold that is done', NEW.step, NEW.batch_id
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'hold_is_done';
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER hold_is_done BEFORE INSERT ON batch_hold_release
    FOR EACH ROW EXECUTE FUNCTION hold_is_done();

-- Whether a hold of a batch is done and waits for a second person.
CREATE FUNCTION batch_hold_waits(batch uuid) RETURNS boolean LANGUAGE sql STABLE AS $$
    SELECT EXISTS (
        SELECT FROM batch b JOIN batch_recipe r ON r.batch_id = b.id,
            jsonb_array_elements(r.recipe::jsonb -> 'method') WITH ORDINALITY AS m (step, number)
        WHERE b.id = $1 AND b.checks_asked AND (m.step ->> 'hold')::boolean
            AND m.number IN (SELECT batch_steps_done($1, NULL))
            AND NOT EXISTS (SELECT FROM batch_hold_release h WHERE h.batch_id = $1 AND h.step = m.number))
$$;

GRANT SELECT, INSERT ON batch_hold_release TO stillroom_service;
