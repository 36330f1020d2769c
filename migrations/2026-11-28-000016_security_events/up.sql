-- Who tried and was refused, apart from the journal: what failed changed nothing, so it is no event, and it is removed
-- after a time. Several of one kind, by one caller or at one account, from one network, are one row with a count.
CREATE TABLE security_event (
    id uuid PRIMARY KEY,
    kind text NOT NULL CHECK (kind IN ('sign_in_failed', 'sign_in_limited', 'password_refused', 'code_used',
        'code_failed', 'refresh_failed', 'refresh_reused', 'session_ended', 'token_invalid', 'key_unknown', 'forbidden',
        'requests_limited')),
    first_at timestamptz NOT NULL,
    last_at timestamptz NOT NULL,
    count bigint NOT NULL CHECK (count > 0),
    -- No foreign key: after a restore, a token may name somebody whom the database does not know any more.
    principal_id uuid,
    -- keyed digests, of a sign-in name that no account has and of the network
    account_digest bytea CHECK (octet_length(account_digest) = 32),
    network_digest bytea CHECK (octet_length(network_digest) = 32),
    -- method and pattern of the address, such as GET /v1/people/{id}
    operation text CHECK (char_length(operation) <= 200),
    CHECK (last_at >= first_at),
    CHECK (principal_id IS NULL OR account_digest IS NULL)
);
CREATE INDEX security_event_kind ON security_event (kind, id);
CREATE INDEX security_event_principal ON security_event (principal_id, id);
CREATE INDEX security_event_last ON security_event (last_at);
GRANT SELECT, INSERT ON security_event TO stillroom_service;

-- The service may add rows and remove none, but through this function, which keeps the last thirty days before the newest
-- row whatever it is asked.
CREATE FUNCTION purge_security_events(older_than timestamptz, at_most integer) RETURNS bigint
    LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog, pg_temp AS $$
DECLARE
    removed bigint;
BEGIN
    DELETE FROM public.security_event WHERE id IN (
        SELECT id FROM public.security_event
        WHERE last_at < older_than
            AND last_at < (SELECT max(last_at) FROM public.security_event) - interval '30 days'
        ORDER BY last_at
        LIMIT at_most);
    GET DIAGNOSTICS removed = ROW_COUNT;
    RETURN removed;
END $$;
REVOKE ALL ON FUNCTION purge_security_events(timestamptz, integer) FROM PUBLIC;
GRANT EXECUTE ON FUNCTION purge_security_events(timestamptz, integer) TO stillroom_service;
