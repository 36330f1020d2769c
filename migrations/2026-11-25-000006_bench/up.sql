-- One batch record. What it asked for and what was written into it stand in the tables below.
CREATE TABLE batch (
    id uuid PRIMARY KEY,
    -- what stands on the jar, such as 2026-0042
    number text NOT NULL UNIQUE,
    revision_id uuid NOT NULL REFERENCES revision (id),
    revision_digest bytea NOT NULL CHECK (octet_length(revision_digest) = 32),
    caution_digest bytea NOT NULL CHECK (octet_length(caution_digest) = 32),
    policy_version integer NOT NULL REFERENCES policy (version),
    maker_id uuid NOT NULL REFERENCES person (id),
    state text NOT NULL
        CHECK (state IN ('planned', 'making', 'submitted', 'returned', 'accepted', 'rejected', 'abandoned')),
    disposition text NOT NULL
        CHECK (disposition IN ('practice_only', 'quarantine', 'released', 'recalled', 'discarded')),
    version bigint NOT NULL,
    opened_at timestamptz NOT NULL,
    last_entry integer NOT NULL CHECK (last_entry >= 0),
    last_submission integer NOT NULL CHECK (last_submission >= 0),
    UNIQUE (id, maker_id),
    -- nothing leaves the clinic without an accepted record
    CHECK (disposition IN ('practice_only', 'quarantine', 'discarded') OR state = 'accepted')
);
CREATE INDEX batch_revision ON batch (revision_id);
CREATE INDEX batch_maker ON batch (maker_id, id);
CREATE INDEX batch_policy ON batch (policy_version);
CREATE INDEX batch_state ON batch (state, id);

-- The year's last batch number, taken under its row lock.
CREATE TABLE batch_counter (
    year integer PRIMARY KEY,
    last integer NOT NULL CHECK (last > 0)
);

-- The recipe the batch was opened with: kept as it was, whatever becomes of the revision.
-- Only the safety store reads or writes this table.
CREATE TABLE batch_recipe (
    batch_id uuid PRIMARY KEY REFERENCES batch (id),
    recipe text NOT NULL
);

-- What was written at the bench. Never changed: a correction is a further entry with its reason.
CREATE TABLE batch_entry (
    id uuid PRIMARY KEY,
    batch_id uuid NOT NULL,
    number integer NOT NULL CHECK (number > 0),
    kind text NOT NULL CHECK (kind IN ('weighing', 'temperature', 'observation', 'step_done', 'yield')),
    -- the line ("1.2": first phase, second line) or the step the entry belongs to
    line text,
    step integer CHECK (step > 0),
    -- as typed, and normalised to grams or degrees Celsius
    quantity text,
    grams numeric CHECK (grams > 0),
    celsius numeric,
    lot text CHECK (char_length(lot) BETWEEN 1 AND 200),
    note text CHECK (char_length(note) BETWEEN 1 AND 4000),
    corrects_id uuid,
    reason text CHECK (char_length(reason) BETWEEN 1 AND 1000),
    by_id uuid NOT NULL REFERENCES person (id),
    at timestamptz NOT NULL,
    -- the cautions had changed and the maker had not acknowledged them yet
    before_acknowledged boolean NOT NULL,
    UNIQUE (batch_id, number),
    UNIQUE (id, batch_id),
    -- one correction of an entry; the next corrects the correction
    UNIQUE (corrects_id),
    -- only the maker writes
    FOREIGN KEY (batch_id, by_id) REFERENCES batch (id, maker_id),
    FOREIGN KEY (corrects_id, batch_id) REFERENCES batch_entry (id, batch_id),
    CHECK ((corrects_id IS NULL) = (reason IS NULL)),
    CHECK (corrects_id <> id)
);
CREATE INDEX batch_entry_batch_by ON batch_entry (batch_id, by_id);
CREATE INDEX batch_entry_corrects ON batch_entry (corrects_id, batch_id);
CREATE INDEX batch_entry_by ON batch_entry (by_id);

-- What the service found when the record was handed in; kept as it was found.
CREATE TABLE submission (
    batch_id uuid NOT NULL REFERENCES batch (id),
    number integer NOT NULL CHECK (number > 0),
    answer text CHECK (char_length(answer) BETWEEN 1 AND 4000),
    findings text NOT NULL,
    last_entry integer NOT NULL,
    at timestamptz NOT NULL,
    PRIMARY KEY (batch_id, number)
);

CREATE TABLE review (
    id uuid PRIMARY KEY,
    batch_id uuid NOT NULL,
    submission_number integer NOT NULL,
    maker_id uuid NOT NULL,
    reviewer_id uuid NOT NULL REFERENCES person (id),
    verdict text NOT NULL CHECK (verdict IN ('return', 'accept', 'reject')),
    summary text NOT NULL CHECK (char_length(summary) BETWEEN 1 AND 4000),
    own_review boolean NOT NULL DEFAULT false,
    at timestamptz NOT NULL,
    UNIQUE (batch_id, submission_number),
    FOREIGN KEY (batch_id, submission_number) REFERENCES submission (batch_id, number),
    FOREIGN KEY (batch_id, maker_id) REFERENCES batch (id, maker_id),
    -- nobody accepts their own work
    CHECK (reviewer_id <> maker_id OR own_review)
);
CREATE INDEX review_batch_maker ON review (batch_id, maker_id);
CREATE INDEX review_reviewer ON review (reviewer_id);

CREATE TABLE review_comment (
    review_id uuid NOT NULL REFERENCES review (id),
    position smallint NOT NULL CHECK (position > 0),
    entry_id uuid REFERENCES batch_entry (id),
    text text NOT NULL CHECK (char_length(text) BETWEEN 1 AND 4000),
    PRIMARY KEY (review_id, position)
);
CREATE INDEX review_comment_entry ON review_comment (entry_id);

GRANT SELECT, INSERT, UPDATE ON batch, batch_counter TO stillroom_service;
GRANT SELECT, INSERT ON batch_recipe, batch_entry, submission, review, review_comment TO stillroom_service;
