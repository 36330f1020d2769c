-- A step that is there for rescue is done only where something goes wrong, so nothing waits for it.
-- What stands in the way of a step: an earlier step that is not done ('order'), unless the method lets this one be done in any
-- order or one of them is there for rescue only, or an earlier hold that nobody has released ('hold'). Batches that were opened before holds were released have
-- neither. A correction that stays with its step goes nowhere.
CREATE OR REPLACE FUNCTION step_barred(batch uuid, kind text, of_step integer, corrects uuid)
    RETURNS TABLE (why text, by_step integer) LANGUAGE sql STABLE AS $$
    WITH method AS (
        SELECT m.number::integer AS number, coalesce((m.step ->> 'hold')::boolean, false) AS hold,
            coalesce((m.step ->> 'any_order')::boolean, false) AS any_order,
            coalesce((m.step ->> 'rescue')::boolean, false) AS rescue
        FROM batch b JOIN batch_recipe r ON r.batch_id = b.id,
            jsonb_array_elements(r.recipe::jsonb -> 'method') WITH ORDINALITY AS m (step, number)
        WHERE b.id = $1 AND b.checks_asked
            AND NOT EXISTS (SELECT FROM batch_entry e WHERE e.id = $4 AND e.step = $3))
    SELECT found.why, found.number FROM (
        SELECT 'order' AS why, m.number FROM method m
        WHERE $2 = 'step_done' AND m.number < $3 AND m.number NOT IN (SELECT batch_steps_done($1, $4))
            AND NOT m.rescue
            AND NOT EXISTS (SELECT FROM method own WHERE own.number = $3 AND (own.any_order OR own.rescue))
        UNION ALL
        SELECT 'hold', m.number FROM method m
        WHERE m.hold AND m.number < $3
            AND (NOT m.rescue OR m.number IN (SELECT batch_steps_done($1, $4)))
            AND NOT EXISTS (SELECT FROM batch_hold_release h WHERE h.batch_id = $1 AND h.step = m.number)
    ) found
    -- of one step, that it is not done comes before that it is not released
    ORDER BY found.number, found.why DESC LIMIT 1
$$;
