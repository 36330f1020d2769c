-- The canonical form that an event's hash was taken over. Those from before this column are of the first.
ALTER TABLE event ADD COLUMN form smallint NOT NULL DEFAULT 1 CHECK (form IN (1, 2));
ALTER TABLE event ALTER COLUMN form DROP DEFAULT;

-- The salt and digest of a row that the journal vouches for, and the event that names the digest. A row of a table that
-- may change has the digest of how its last event left it.
CREATE TABLE row_digest (
    table_name text NOT NULL,
    -- the row's key as text, its parts joined by "/"
    row_key text NOT NULL,
    form smallint NOT NULL CHECK (form IN (1, 2)),
    salt bytea NOT NULL CHECK (octet_length(salt) = 16),
    digest bytea NOT NULL CHECK (octet_length(digest) = 32),
    event_id uuid NOT NULL REFERENCES event (id),
    PRIMARY KEY (table_name, row_key)
);
CREATE INDEX row_digest_event ON row_digest (event_id);

-- Committed events that have no place in the public order yet; one relay gives it.
CREATE TABLE event_unnumbered (
    event_id uuid PRIMARY KEY REFERENCES event (id)
);
-- The public order of events, given after commit. Neither ids nor times are in the order of commits.
CREATE TABLE event_order (
    position bigint PRIMARY KEY CHECK (position > 0),
    event_id uuid NOT NULL UNIQUE REFERENCES event (id)
);
INSERT INTO event_unnumbered (event_id) SELECT id FROM event;

GRANT SELECT, INSERT, UPDATE ON row_digest TO stillroom_service;
GRANT SELECT, INSERT, DELETE ON event_unnumbered TO stillroom_service;
GRANT SELECT, INSERT ON event_order TO stillroom_service;

-- The canonical form that the digest of a revision was taken over.
ALTER TABLE revision_content ADD COLUMN form smallint NOT NULL DEFAULT 1 CHECK (form IN (1, 2));
ALTER TABLE revision_content ALTER COLUMN form DROP DEFAULT;
