-- The role in a session is a copy, which one row to prove a caller by asks for. It follows the person's own by this key,
-- so that no copy can be missed. Not validated: sessions that had ended keep the role that they ended with, as the
-- journal vouches for it. `stillroom migrate` ends what is still open under an older role.
ALTER TABLE person ADD CONSTRAINT person_role UNIQUE (id, role);
ALTER TABLE session DROP CONSTRAINT session_person_id_fkey;
DROP INDEX session_person;
CREATE INDEX session_person ON session (person_id, role);
ALTER TABLE session ADD CONSTRAINT session_person_role FOREIGN KEY (person_id, role) REFERENCES person (id, role)
    ON UPDATE CASCADE NOT VALID;
REVOKE UPDATE (role) ON session FROM stillroom_service;

-- What is removed after a time is found by its age.
CREATE INDEX refresh_token_issued ON refresh_token (issued_at);
CREATE INDEX idempotency_at ON idempotency (at);
CREATE INDEX attempt_last ON attempt (last_at);
GRANT DELETE ON refresh_token, idempotency TO stillroom_service;
