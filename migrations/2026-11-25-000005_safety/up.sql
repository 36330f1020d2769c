-- Amounts and method. Only the safety store reads or writes this table.
CREATE TABLE revision_content (
    revision_id uuid PRIMARY KEY REFERENCES revision (id),
    -- what the author wrote, with every ingredient resolved
    content text NOT NULL,
    -- set when proposed: the random part of the digest, and the evaluation with the engine that made it
    salt bytea CHECK (octet_length(salt) = 16),
    evaluation text
);
CREATE FUNCTION content_stays_frozen() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF (SELECT state FROM revision WHERE id = OLD.revision_id) <> 'draft' THEN
        RAISE EXCEPTION 'the content of revision % is frozen', OLD.revision_id
            USING ERRCODE = 'integrity_constraint_violation';
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER content_stays_frozen BEFORE UPDATE ON revision_content
    FOR EACH ROW EXECUTE FUNCTION content_stays_frozen();

-- Free text about a proposal may name amounts, so it is behind the gate too.
CREATE TABLE revision_comment (
    id uuid PRIMARY KEY,
    revision_id uuid NOT NULL REFERENCES revision (id),
    by_id uuid NOT NULL REFERENCES person (id),
    decision text NOT NULL CHECK (decision IN ('return', 'approve', 'withdraw')),
    comment text NOT NULL,
    at timestamptz NOT NULL
);
CREATE INDEX revision_comment_revision ON revision_comment (revision_id, id);
CREATE INDEX revision_comment_by ON revision_comment (by_id);

-- The caution sets a revision has had; a set is never changed, a new one follows it.
CREATE TABLE caution_set (
    revision_id uuid NOT NULL REFERENCES revision (id),
    number integer NOT NULL CHECK (number > 0),
    digest bytea NOT NULL CHECK (octet_length(digest) = 32),
    made_at timestamptz NOT NULL,
    PRIMARY KEY (revision_id, number)
);
CREATE TABLE caution (
    revision_id uuid NOT NULL,
    set_number integer NOT NULL,
    position smallint NOT NULL,
    key text NOT NULL,
    text_version integer NOT NULL,
    level text NOT NULL CHECK (level IN ('note', 'caution', 'contraindication', 'stop')),
    language text NOT NULL,
    text text NOT NULL,
    source text NOT NULL,
    status text NOT NULL,
    -- for whom it is meant: everyone, pregnant, under:6y, allergy:GROUP...
    audiences jsonb NOT NULL,
    -- why it is there, as paths of names from the formula down
    origins jsonb NOT NULL,
    PRIMARY KEY (revision_id, set_number, position),
    FOREIGN KEY (revision_id, set_number) REFERENCES caution_set (revision_id, number)
);

-- The row that acknowledging locks for share and a caution change for update.
CREATE TABLE gate (
    revision_id uuid PRIMARY KEY REFERENCES revision (id),
    set_number integer NOT NULL,
    caution_digest bytea NOT NULL CHECK (octet_length(caution_digest) = 32),
    FOREIGN KEY (revision_id, set_number) REFERENCES caution_set (revision_id, number)
);
CREATE INDEX gate_set ON gate (revision_id, set_number);

CREATE TABLE acknowledgement (
    id uuid PRIMARY KEY,
    holder_id uuid NOT NULL REFERENCES principal (id),
    -- the person who answers for it: the holder, or an API client's responsible person
    given_by uuid NOT NULL REFERENCES person (id),
    revision_id uuid NOT NULL REFERENCES revision (id),
    revision_digest bytea NOT NULL CHECK (octet_length(revision_digest) = 32),
    set_number integer NOT NULL,
    caution_digest bytea NOT NULL CHECK (octet_length(caution_digest) = 32),
    -- contraindications acknowledged each on its own
    contraindications jsonb NOT NULL,
    language text NOT NULL,
    purpose text NOT NULL CHECK (purpose IN ('make', 'decide')),
    at timestamptz NOT NULL,
    valid_until timestamptz NOT NULL,
    FOREIGN KEY (revision_id, set_number) REFERENCES caution_set (revision_id, number)
);
CREATE INDEX acknowledgement_holder ON acknowledgement (holder_id, id);
CREATE INDEX acknowledgement_given_by ON acknowledgement (given_by);
CREATE INDEX acknowledgement_set ON acknowledgement (revision_id, set_number);

-- An open door: the second of the two rows that a read of a recipe proves itself by.
-- It is removed in the transaction that closes it.
CREATE TABLE door (
    holder_id uuid NOT NULL REFERENCES principal (id),
    revision_id uuid NOT NULL REFERENCES revision (id),
    digest bytea NOT NULL CHECK (octet_length(digest) = 32),
    caution_digest bytea NOT NULL CHECK (octet_length(caution_digest) = 32),
    purpose text NOT NULL CHECK (purpose IN ('make', 'decide')),
    acknowledgement_id uuid NOT NULL REFERENCES acknowledgement (id),
    valid_until timestamptz NOT NULL,
    PRIMARY KEY (holder_id, revision_id)
);
CREATE INDEX door_revision ON door (revision_id);
CREATE INDEX door_acknowledgement ON door (acknowledgement_id);

GRANT SELECT, INSERT, UPDATE ON revision_content, gate TO stillroom_service;
GRANT SELECT, INSERT ON revision_comment, caution_set, caution, acknowledgement TO stillroom_service;
GRANT SELECT, INSERT, UPDATE, DELETE ON door TO stillroom_service;
