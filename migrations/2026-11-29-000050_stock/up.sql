-- A lot of a material, as it was received. What was received never changes; its state, and until when it keeps, do.
CREATE TABLE lot (
    id uuid PRIMARY KEY,
    -- what the clinic writes on the container, such as L2026-0042
    number text NOT NULL UNIQUE,
    material_id uuid NOT NULL REFERENCES material (id),
    state text NOT NULL CHECK (state IN ('quarantine', 'usable', 'discarded')),
    supplier text NOT NULL CHECK (char_length(supplier) BETWEEN 1 AND 100),
    supplier_lot text NOT NULL CHECK (char_length(supplier_lot) BETWEEN 1 AND 100),
    received_on date NOT NULL,
    -- as printed on the container; a day or a month
    expires text,
    opened_on date,
    -- the last day on which it may be used, and the rule that says so
    keeps_until date NOT NULL,
    keeps_rule text NOT NULL CHECK (keeps_rule <> ''),
    -- as typed, and by which density a volume became grams
    amount text NOT NULL CHECK (amount <> ''),
    converted_by text,
    -- as typed, in the currency of that day, and for one gram; absent where the density is not known
    price text,
    currency text,
    price_per_gram numeric CHECK (price_per_gram >= 0),
    assay text,
    certificate text CHECK (char_length(certificate) BETWEEN 1 AND 1000),
    collector text CHECK (char_length(collector) BETWEEN 1 AND 200),
    site text CHECK (char_length(site) BETWEEN 1 AND 200),
    collected_on date,
    version bigint NOT NULL,
    last_decision integer NOT NULL CHECK (last_decision >= 0),
    received_by uuid NOT NULL REFERENCES person (id),
    received_at timestamptz NOT NULL,
    CONSTRAINT lot_price CHECK ((price IS NULL) = (currency IS NULL) AND (price IS NOT NULL OR price_per_gram IS NULL)),
    CONSTRAINT lot_opened CHECK (opened_on >= received_on)
);
CREATE INDEX lot_material ON lot (material_id, keeps_until, id);
CREATE INDEX lot_keeps ON lot (keeps_until, id);
CREATE INDEX lot_state ON lot (state, keeps_until, id);
CREATE INDEX lot_received_by ON lot (received_by);
CREATE TRIGGER lot_never_changes
    BEFORE UPDATE OF id, number, material_id, supplier, supplier_lot, received_on, expires, amount, converted_by, price,
        currency, price_per_gram, assay, certificate, collector, site, collected_on, received_by, received_at ON lot
    FOR EACH ROW EXECUTE FUNCTION columns_never_change('id', 'number', 'material_id', 'supplier', 'supplier_lot',
        'received_on', 'expires', 'amount', 'converted_by', 'price', 'currency', 'price_per_gram', 'assay', 'certificate',
        'collector', 'site', 'collected_on', 'received_by', 'received_at');
-- What was opened or thrown away stays so.
CREATE FUNCTION lot_never_goes_back() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF OLD.state = 'discarded' AND NEW.state <> 'discarded' THEN
        RAISE EXCEPTION 'lot % was discarded', OLD.id
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'lot_stays_discarded';
    END IF;
    IF OLD.opened_on IS DISTINCT FROM NEW.opened_on AND OLD.opened_on IS NOT NULL OR NEW.keeps_until > OLD.keeps_until THEN
        RAISE EXCEPTION 'lot % would keep longer, or be opened on another day', OLD.id
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'lot_keeps_no_longer';
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER lot_never_goes_back BEFORE UPDATE ON lot FOR EACH ROW EXECUTE FUNCTION lot_never_goes_back();

-- The year's last lot number, taken under its row lock.
CREATE TABLE lot_counter (
    year integer PRIMARY KEY,
    last integer NOT NULL CHECK (last > 0)
);

-- What was decided of a lot, and of its identity what was looked at. Never changed: another decision follows.
CREATE TABLE lot_decision (
    id uuid PRIMARY KEY,
    lot_id uuid NOT NULL REFERENCES lot (id),
    number integer NOT NULL CHECK (number > 0),
    decision text NOT NULL CHECK (decision IN ('confirmed', 'not_confirmed', 'quarantined', 'discarded')),
    species text,
    part text,
    condition text,
    organoleptic text,
    look_alikes text,
    foreign_matter text,
    loss_on_drying text,
    reason text CHECK (char_length(reason) BETWEEN 1 AND 1000),
    by_id uuid NOT NULL REFERENCES person (id),
    at timestamptz NOT NULL,
    CONSTRAINT lot_decision_once UNIQUE (lot_id, number),
    CONSTRAINT lot_decision_identity CHECK ((decision IN ('confirmed', 'not_confirmed')) = (organoleptic IS NOT NULL)),
    CONSTRAINT lot_decision_reason CHECK (decision = 'confirmed' OR reason IS NOT NULL)
);
CREATE INDEX lot_decision_by ON lot_decision (by_id);

-- The ledger. A movement is never changed; what was wrong is put right by another. What an entry of a batch drew is not
-- repeated here: its amount stands in the entry, behind the gate. Other amounts are signed, in grams.
CREATE TABLE lot_movement (
    id uuid PRIMARY KEY,
    lot_id uuid NOT NULL REFERENCES lot (id),
    number integer NOT NULL CHECK (number > 0),
    kind text NOT NULL CHECK (kind IN ('received', 'used', 'returned', 'adjusted', 'discarded')),
    grams numeric,
    -- what was typed with an adjustment: what was counted
    counted text,
    batch_id uuid REFERENCES batch (id),
    entry_id uuid,
    reason text CHECK (char_length(reason) BETWEEN 1 AND 1000),
    by_id uuid NOT NULL REFERENCES person (id),
    at timestamptz NOT NULL,
    CONSTRAINT lot_movement_once UNIQUE (lot_id, number),
    -- an entry draws from one lot, once, and gives back once
    CONSTRAINT lot_movement_of_entry UNIQUE (entry_id, kind),
    FOREIGN KEY (entry_id, batch_id) REFERENCES batch_entry (id, batch_id),
    CONSTRAINT lot_movement_entry CHECK ((kind IN ('used', 'returned')) = (entry_id IS NOT NULL)
        AND (entry_id IS NULL) = (batch_id IS NULL) AND (entry_id IS NULL) = (grams IS NOT NULL)),
    CONSTRAINT lot_movement_sign CHECK (CASE kind WHEN 'received' THEN grams > 0 WHEN 'discarded' THEN grams < 0
        WHEN 'adjusted' THEN grams <> 0 ELSE true END),
    CONSTRAINT lot_movement_reason CHECK ((kind IN ('adjusted', 'discarded')) = (reason IS NOT NULL))
);
CREATE INDEX lot_movement_batch ON lot_movement (batch_id);
CREATE INDEX lot_movement_entry ON lot_movement (entry_id, batch_id);
CREATE INDEX lot_movement_by ON lot_movement (by_id);

-- What is left of a lot. Only a movement changes it, through the trigger below: the service has no right to write here.
CREATE TABLE lot_balance (
    lot_id uuid PRIMARY KEY REFERENCES lot (id),
    on_hand numeric NOT NULL,
    last_movement integer NOT NULL CHECK (last_movement > 0),
    CONSTRAINT lot_balance_on_hand CHECK (on_hand >= 0)
);
CREATE FUNCTION lot_balance_moves() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    -- within the trigger of a movement alone
    IF pg_trigger_depth() < 2 THEN
        RAISE EXCEPTION 'a balance changes with a movement only'
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'lot_balance_moves';
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER lot_balance_moves BEFORE INSERT OR UPDATE ON lot_balance
    FOR EACH ROW EXECUTE FUNCTION lot_balance_moves();

CREATE FUNCTION lot_movement_moves() RETURNS trigger
    LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    moved numeric := NEW.grams;
BEGIN
    IF NEW.entry_id IS NOT NULL THEN
        SELECT CASE NEW.kind WHEN 'used' THEN -grams ELSE grams END INTO STRICT moved
            FROM public.batch_entry WHERE id = NEW.entry_id;
        IF moved IS NULL THEN
            RAISE EXCEPTION 'entry % weighed nothing', NEW.entry_id
                USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'lot_movement_weighed';
        END IF;
    END IF;
    IF NEW.number = 1 THEN
        INSERT INTO public.lot_balance (lot_id, on_hand, last_movement) VALUES (NEW.lot_id, moved, 1);
    ELSE
        UPDATE public.lot_balance SET on_hand = on_hand + moved, last_movement = NEW.number
            WHERE lot_id = NEW.lot_id AND last_movement = NEW.number - 1;
        IF NOT FOUND THEN
            RAISE EXCEPTION 'movement % of lot % does not follow the last', NEW.number, NEW.lot_id
                USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'lot_movement_follows';
        END IF;
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER lot_movement_moves AFTER INSERT ON lot_movement
    FOR EACH ROW EXECUTE FUNCTION lot_movement_moves();

-- How little of a material may be left before it counts as running low.
CREATE TABLE stock_threshold (
    material_id uuid PRIMARY KEY REFERENCES material (id),
    -- as typed and in grams; absent where it was taken away again
    least text,
    grams numeric CHECK (grams > 0),
    version bigint NOT NULL,
    set_by uuid NOT NULL REFERENCES person (id),
    set_at timestamptz NOT NULL,
    CONSTRAINT stock_threshold_least CHECK ((least IS NULL) = (grams IS NULL))
);
CREATE INDEX stock_threshold_set_by ON stock_threshold (set_by);

GRANT SELECT, INSERT ON lot, lot_counter, lot_decision, lot_movement, stock_threshold TO stillroom_service;
GRANT SELECT ON lot_balance TO stillroom_service;
GRANT UPDATE (state, opened_on, keeps_until, keeps_rule, version, last_decision) ON lot TO stillroom_service;
GRANT UPDATE (last) ON lot_counter TO stillroom_service;
GRANT UPDATE (least, grams, version, set_by, set_at) ON stock_threshold TO stillroom_service;
