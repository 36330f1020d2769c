-- A page knows its person by a secret of its own, which works for as long as its session does. It is kept as its digest
-- and never replaced, so that two windows of one browser cannot end each other's session.
CREATE TABLE page_session (
    secret_hash bytea PRIMARY KEY CHECK (octet_length(secret_hash) = 32),
    session_id uuid NOT NULL REFERENCES session (id),
    issued_at timestamptz NOT NULL
);
CREATE UNIQUE INDEX page_session_session ON page_session (session_id);
CREATE INDEX page_session_issued ON page_session (issued_at);

GRANT SELECT, INSERT, DELETE ON page_session TO stillroom_service;
