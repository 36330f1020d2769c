REVOKE DELETE ON refresh_token, idempotency FROM stillroom_service;
DROP INDEX attempt_last;
DROP INDEX idempotency_at;
DROP INDEX refresh_token_issued;

GRANT UPDATE (role) ON session TO stillroom_service;
ALTER TABLE session DROP CONSTRAINT session_person_role;
DROP INDEX session_person;
CREATE INDEX session_person ON session (person_id);
ALTER TABLE session ADD CONSTRAINT session_person_id_fkey FOREIGN KEY (person_id) REFERENCES person (id);
ALTER TABLE person DROP CONSTRAINT person_role;
