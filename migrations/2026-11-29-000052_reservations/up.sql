-- A batch may hold what it is going to weigh, until a day. That a batch holds something of a lot is no secret; how much is an
-- amount of its recipe. So the amount stands in a table of its own, to which the service adds and which it cannot read: the
-- database alone adds up. A reservation is gone when it was used, freed, or its day is over; what was drawn is in the ledger.
CREATE TABLE lot_reservation (
    id uuid PRIMARY KEY,
    lot_id uuid NOT NULL REFERENCES lot (id),
    batch_id uuid NOT NULL REFERENCES batch (id),
    phase smallint NOT NULL CHECK (phase > 0),
    line smallint NOT NULL CHECK (line > 0),
    -- whether with it the batch holds all that the line asks for
    completes boolean NOT NULL,
    by_id uuid NOT NULL REFERENCES person (id),
    at timestamptz NOT NULL,
    expires_at timestamptz NOT NULL,
    CONSTRAINT lot_reservation_once UNIQUE (batch_id, phase, line, lot_id),
    CONSTRAINT lot_reservation_of UNIQUE (id, lot_id),
    CONSTRAINT lot_reservation_ends CHECK (expires_at > at)
);
CREATE INDEX lot_reservation_lot ON lot_reservation (lot_id, expires_at);
CREATE INDEX lot_reservation_expires ON lot_reservation (expires_at, id);
CREATE INDEX lot_reservation_by ON lot_reservation (by_id);

-- How much, in g. The service may add a row; it may not read one.
CREATE TABLE lot_reserved (
    reservation_id uuid PRIMARY KEY,
    lot_id uuid NOT NULL,
    grams numeric NOT NULL CHECK (grams > 0),
    FOREIGN KEY (reservation_id, lot_id) REFERENCES lot_reservation (id, lot_id)
);
CREATE INDEX lot_reserved_of ON lot_reserved (reservation_id, lot_id);
-- The amount goes with its reservation; the service has no right to remove it otherwise.
CREATE FUNCTION lot_reservation_goes() RETURNS trigger
    LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    DELETE FROM public.lot_reserved WHERE reservation_id = OLD.id;
    RETURN OLD;
END $$;
CREATE TRIGGER lot_reservation_goes BEFORE DELETE ON lot_reservation
    FOR EACH ROW EXECUTE FUNCTION lot_reservation_goes();

-- What all batches hold of a lot, beside its balance, which follows the movements through the foreign key. Nobody reserves
-- what is not there, and nobody draws what another holds.
ALTER TABLE lot_balance ADD CONSTRAINT lot_balance_now UNIQUE (lot_id, on_hand);
CREATE TABLE lot_held (
    lot_id uuid PRIMARY KEY,
    on_hand numeric NOT NULL,
    reserved numeric NOT NULL,
    CONSTRAINT lot_held_balance FOREIGN KEY (lot_id, on_hand) REFERENCES lot_balance (lot_id, on_hand) ON UPDATE CASCADE,
    CONSTRAINT lot_held_no_more CHECK (0 <= reserved AND reserved <= on_hand)
);
CREATE INDEX lot_held_balance ON lot_held (lot_id, on_hand);

CREATE FUNCTION lot_reserved_is_held() RETURNS trigger
    LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
BEGIN
    IF TG_OP <> 'INSERT' THEN
        UPDATE public.lot_held SET reserved = reserved - OLD.grams WHERE lot_id = OLD.lot_id;
    END IF;
    IF TG_OP <> 'DELETE' THEN
        INSERT INTO public.lot_held AS h (lot_id, on_hand, reserved)
            SELECT lot_id, on_hand, NEW.grams FROM public.lot_balance WHERE lot_id = NEW.lot_id
            ON CONFLICT (lot_id) DO UPDATE SET reserved = h.reserved + EXCLUDED.reserved;
    END IF;
    RETURN NULL;
END $$;
CREATE TRIGGER lot_reserved_is_held AFTER INSERT OR UPDATE OR DELETE ON lot_reserved
    FOR EACH ROW EXECUTE FUNCTION lot_reserved_is_held();

-- What a batch draws for a line comes out of what it holds for that line first.
CREATE FUNCTION lot_movement_uses_reservation() RETURNS trigger
    LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    of record;
BEGIN
    SELECT r.id, g.grams AS held, e.grams AS drawn INTO of
        FROM public.batch_entry e JOIN public.lot_reservation r
            ON r.batch_id = e.batch_id AND r.lot_id = NEW.lot_id AND r.phase || '.' || r.line = e.line
        JOIN public.lot_reserved g ON g.reservation_id = r.id
        WHERE e.id = NEW.entry_id;
    IF NOT FOUND THEN
        RETURN NEW;
    END IF;
    IF of.held > of.drawn THEN
        UPDATE public.lot_reserved SET grams = grams - of.drawn WHERE reservation_id = of.id;
    ELSE
        DELETE FROM public.lot_reservation WHERE id = of.id;
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER lot_movement_uses_reservation BEFORE INSERT ON lot_movement
    FOR EACH ROW WHEN (NEW.kind = 'used') EXECUTE FUNCTION lot_movement_uses_reservation();

-- What a line of a batch may draw from a lot: all that nobody else holds, nor the batch itself for another line.
CREATE FUNCTION lot_free(lot uuid, batch uuid, of_phase smallint, of_line smallint, today timestamptz) RETURNS numeric
    LANGUAGE sql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    SELECT b.on_hand - coalesce((
        SELECT sum(g.grams) FROM public.lot_reservation r JOIN public.lot_reserved g ON g.reservation_id = r.id
        WHERE r.lot_id = $1 AND r.expires_at > $5
            AND NOT (r.batch_id = $2 AND r.phase = $3 AND r.line = $4)), 0)
    FROM public.lot_balance b WHERE b.lot_id = $1
$$;

-- Which reservations of a lot do not fit into so many grams, the newest first: of these a count that found less takes leave.
CREATE FUNCTION lot_reserved_beyond(lot uuid, left_over numeric) RETURNS SETOF uuid
    LANGUAGE sql STABLE SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
    SELECT s.id FROM (
        SELECT r.id, sum(g.grams) OVER (ORDER BY r.at, r.id) AS sum
        FROM public.lot_reservation r JOIN public.lot_reserved g ON g.reservation_id = r.id
        WHERE r.lot_id = $1) s
    WHERE s.sum > $2
$$;

GRANT SELECT, INSERT, DELETE ON lot_reservation TO stillroom_service;
GRANT INSERT ON lot_reserved TO stillroom_service;
