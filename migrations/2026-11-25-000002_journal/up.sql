-- Where each subject's chain of events stands; locked for update by whoever writes the next event.
CREATE TABLE event_head (
    subject_id uuid PRIMARY KEY,
    subject_kind text NOT NULL,
    number bigint NOT NULL CHECK (number > 0),
    hash bytea NOT NULL CHECK (octet_length(hash) = 32)
);

-- Everything that ever changed: ids and digests, never content.
CREATE TABLE event (
    id uuid PRIMARY KEY,
    subject_kind text NOT NULL,
    subject_id uuid NOT NULL,
    number bigint NOT NULL CHECK (number > 0),
    at timestamptz NOT NULL,
    actor_id uuid REFERENCES principal (id),
    on_authority_of uuid REFERENCES person (id),
    action text NOT NULL,
    before_digest bytea,
    after_digest bytea,
    -- ids and digests of what else the change touched
    detail jsonb NOT NULL,
    previous_hash bytea NOT NULL CHECK (octet_length(previous_hash) = 32),
    hash bytea NOT NULL CHECK (octet_length(hash) = 32),
    UNIQUE (subject_id, number)
);
CREATE INDEX event_actor ON event (actor_id, id);
CREATE INDEX event_on_authority_of ON event (on_authority_of);

GRANT SELECT, INSERT, UPDATE ON event_head TO stillroom_service;
GRANT SELECT, INSERT ON event TO stillroom_service;
