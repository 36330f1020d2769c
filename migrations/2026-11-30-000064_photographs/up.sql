-- A photograph of a batch, taken at the bench by its maker. Its files are kept elsewhere, named by its id; what they must be is
-- kept here. It tells no amount in words: what it shows is a word of a list, and more stands in the entry that it belongs to.
CREATE TABLE batch_photograph (
    id uuid PRIMARY KEY,
    batch_id uuid NOT NULL,
    number integer NOT NULL,
    subject text NOT NULL CONSTRAINT batch_photograph_subject
        CHECK (subject IN ('material', 'reading', 'work', 'preparation', 'label', 'jars', 'fault')),
    entry_id uuid,
    width integer NOT NULL,
    height integer NOT NULL,
    bytes integer NOT NULL CHECK (bytes > 0),
    sha256 bytea NOT NULL CHECK (octet_length(sha256) = 32),
    preview_width integer NOT NULL,
    preview_height integer NOT NULL,
    preview_bytes integer NOT NULL CHECK (preview_bytes > 0),
    preview_sha256 bytea NOT NULL CHECK (octet_length(preview_sha256) = 32),
    -- the submissions that were there before it: the next one freezes it
    after_submission integer NOT NULL CHECK (after_submission >= 0),
    by_id uuid NOT NULL,
    at timestamptz NOT NULL,
    CONSTRAINT batch_photograph_number UNIQUE (batch_id, number),
    CONSTRAINT batch_photograph_of_batch UNIQUE (id, batch_id),
    -- withdrawn ones count, so that nobody fills the disk
    CONSTRAINT batch_photograph_bounded CHECK (number BETWEEN 1 AND 100),
    CONSTRAINT batch_photograph_side CHECK (width BETWEEN 1 AND 2560 AND height BETWEEN 1 AND 2560),
    CONSTRAINT batch_photograph_preview_side CHECK (preview_width BETWEEN 1 AND 480 AND preview_height BETWEEN 1 AND 480),
    -- nobody but the maker adds one
    CONSTRAINT batch_photograph_of_maker FOREIGN KEY (batch_id, by_id) REFERENCES batch (id, maker_id),
    CONSTRAINT batch_photograph_of_entry FOREIGN KEY (entry_id, batch_id) REFERENCES batch_entry (id, batch_id)
);
CREATE INDEX batch_photograph_maker ON batch_photograph (batch_id, by_id);
CREATE INDEX batch_photograph_entry ON batch_photograph (entry_id, batch_id);

-- A record is photographed while it is written: what a submission froze stays as it was.
CREATE FUNCTION photograph_while_written() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    PERFORM FROM batch WHERE id = NEW.batch_id AND state IN ('planned', 'making', 'returned')
        AND last_submission = NEW.after_submission FOR SHARE;
    IF NOT FOUND THEN
        RAISE EXCEPTION 'the record of batch % is not being written', NEW.batch_id
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'photograph_while_written';
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER photograph_while_written BEFORE INSERT ON batch_photograph
    FOR EACH ROW EXECUTE FUNCTION photograph_while_written();

-- That a photograph was withdrawn, and why. Its files are removed; what they were, and that they were there, stays.
CREATE TABLE photograph_withdrawal (
    photograph_id uuid PRIMARY KEY,
    batch_id uuid NOT NULL,
    reason text NOT NULL CHECK (char_length(reason) BETWEEN 1 AND 1000),
    by_id uuid NOT NULL REFERENCES person (id),
    at timestamptz NOT NULL,
    CONSTRAINT photograph_withdrawal_of FOREIGN KEY (photograph_id, batch_id) REFERENCES batch_photograph (id, batch_id)
);
CREATE INDEX photograph_withdrawal_batch ON photograph_withdrawal (photograph_id, batch_id);
CREATE INDEX photograph_withdrawal_by ON photograph_withdrawal (by_id);

-- Nobody takes back what they handed in.
CREATE FUNCTION handed_photograph_stays() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    PERFORM FROM batch b JOIN batch_photograph p ON p.batch_id = b.id
        WHERE p.id = NEW.photograph_id AND b.maker_id = NEW.by_id AND b.last_submission > p.after_submission FOR SHARE OF b;
    IF FOUND THEN
        RAISE EXCEPTION 'photograph % was handed in', NEW.photograph_id
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'handed_photograph_stays';
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER handed_photograph_stays BEFORE INSERT ON photograph_withdrawal
    FOR EACH ROW EXECUTE FUNCTION handed_photograph_stays();

GRANT SELECT, INSERT ON batch_photograph, photograph_withdrawal TO stillroom_service;
