-- The service works under a role that owns nothing: it may use the tables, never alter or drop them.
-- Roles belong to the whole cluster, so another database may have made it already.
DO $$
BEGIN
    CREATE ROLE stillroom_service NOLOGIN;
EXCEPTION WHEN duplicate_object OR unique_violation THEN NULL;
END $$;
DO $$
BEGIN
    EXECUTE format('GRANT stillroom_service TO %I', current_user);
EXCEPTION WHEN OTHERS THEN
    -- A superuser may act as any role without membership; anyone else is told at start-up.
    RAISE NOTICE 'membership in stillroom_service not granted: %', SQLERRM;
END $$;
GRANT USAGE ON SCHEMA public TO stillroom_service;

-- Whoever can act: a person or another tool. Journal, doors and memberships refer to it.
CREATE TABLE principal (
    id uuid PRIMARY KEY,
    kind text NOT NULL CHECK (kind IN ('person', 'api_client')),
    UNIQUE (id, kind)
);

CREATE TABLE person (
    id uuid PRIMARY KEY,
    kind text NOT NULL DEFAULT 'person' CHECK (kind = 'person'),
    sign_in_name text NOT NULL CHECK (char_length(sign_in_name) BETWEEN 3 AND 200),
    name text NOT NULL CHECK (char_length(name) BETWEEN 1 AND 200),
    role text NOT NULL CHECK (role IN ('student', 'instructor', 'administrator')),
    state text NOT NULL CHECK (state IN ('invited', 'active', 'disabled')),
    version bigint NOT NULL,
    created_at timestamptz NOT NULL,
    FOREIGN KEY (id, kind) REFERENCES principal (id, kind)
);
CREATE INDEX person_principal ON person (id, kind);
-- "Maria" and "maria" must not be two people.
CREATE UNIQUE INDEX person_sign_in_name ON person (lower(sign_in_name));
CREATE INDEX person_name ON person (name COLLATE "C", id);

-- Apart from the person, so that no query for people can carry a hash along.
CREATE TABLE credential (
    person_id uuid PRIMARY KEY REFERENCES person (id),
    password_hash text NOT NULL,
    changed_at timestamptz NOT NULL
);

-- Invitations and resets: shown once, kept as a digest, used once.
CREATE TABLE one_time_code (
    id uuid PRIMARY KEY,
    person_id uuid NOT NULL REFERENCES person (id),
    purpose text NOT NULL CHECK (purpose IN ('invitation', 'reset')),
    code_hash bytea NOT NULL UNIQUE CHECK (octet_length(code_hash) = 32),
    made_by uuid REFERENCES principal (id),
    made_at timestamptz NOT NULL,
    valid_until timestamptz NOT NULL,
    used_at timestamptz
);
CREATE INDEX one_time_code_person ON one_time_code (person_id);
CREATE INDEX one_time_code_made_by ON one_time_code (made_by);

-- One row proves who is calling; it is rewritten when the person's role or state changes.
CREATE TABLE session (
    id uuid PRIMARY KEY,
    person_id uuid NOT NULL REFERENCES person (id),
    role text NOT NULL CHECK (role IN ('student', 'instructor', 'administrator')),
    started_at timestamptz NOT NULL,
    idle_until timestamptz NOT NULL,
    valid_until timestamptz NOT NULL,
    ended_at timestamptz
);
CREATE INDEX session_person ON session (person_id);

-- A used token stays, so that its second use is recognised and ends the session.
CREATE TABLE refresh_token (
    token_hash bytea PRIMARY KEY CHECK (octet_length(token_hash) = 32),
    session_id uuid NOT NULL REFERENCES session (id),
    issued_at timestamptz NOT NULL,
    used_at timestamptz
);
CREATE INDEX refresh_token_session ON refresh_token (session_id);

CREATE TABLE api_client (
    id uuid PRIMARY KEY,
    kind text NOT NULL DEFAULT 'api_client' CHECK (kind = 'api_client'),
    name text NOT NULL CHECK (char_length(name) BETWEEN 1 AND 200),
    key_hash bytea NOT NULL UNIQUE CHECK (octet_length(key_hash) = 32),
    key_prefix text NOT NULL,
    responsible_id uuid NOT NULL REFERENCES person (id),
    -- space-separated, as OAuth writes scopes
    scopes text NOT NULL,
    state text NOT NULL CHECK (state IN ('active', 'revoked')),
    version bigint NOT NULL,
    created_at timestamptz NOT NULL,
    valid_until timestamptz NOT NULL,
    last_used_at timestamptz,
    FOREIGN KEY (id, kind) REFERENCES principal (id, kind)
);
CREATE INDEX api_client_principal ON api_client (id, kind);
CREATE INDEX api_client_responsible ON api_client (responsible_id);

-- Failed attempts at sensitive actions, by the digest of what they were aimed at or came from.
CREATE TABLE attempt (
    aim bytea PRIMARY KEY CHECK (octet_length(aim) = 32),
    failures integer NOT NULL CHECK (failures >= 0),
    last_at timestamptz NOT NULL
);

-- What a creating request did, so that its repetition does nothing twice. No body and no secret is kept.
CREATE TABLE idempotency (
    principal_id uuid NOT NULL REFERENCES principal (id),
    key text NOT NULL CHECK (char_length(key) BETWEEN 1 AND 255),
    route text NOT NULL,
    request_digest bytea NOT NULL CHECK (octet_length(request_digest) = 32),
    status smallint NOT NULL,
    resource_id uuid NOT NULL,
    at timestamptz NOT NULL,
    PRIMARY KEY (principal_id, key)
);

GRANT SELECT, INSERT, UPDATE ON principal, person, credential, one_time_code, session, refresh_token, api_client,
    attempt TO stillroom_service;
GRANT SELECT, INSERT ON idempotency TO stillroom_service;
GRANT DELETE ON attempt TO stillroom_service;
