-- The service may change the columns that it changes, and no others. What follows from it holds whoever asks: columns
-- that never change are held by triggers too.
REVOKE UPDATE ON principal, amendment, api_client, attempt, batch, batch_counter, credential, event_head, formula, gate, library, material, material_synonym, one_time_code, person, reference_rule, refresh_token, release_grant, revision, revision_content, row_digest, session FROM stillroom_service;
GRANT UPDATE (state, decided_by, decided_at, own_decision) ON amendment TO stillroom_service;
GRANT UPDATE (state, version, last_used_at) ON api_client TO stillroom_service;
GRANT UPDATE (throttle_key, failures, last_at) ON attempt TO stillroom_service;
GRANT UPDATE (state, disposition, version, last_entry, last_submission) ON batch TO stillroom_service;
GRANT UPDATE (last) ON batch_counter TO stillroom_service;
GRANT UPDATE (password_hash, changed_at) ON credential TO stillroom_service;
GRANT UPDATE (number, hash) ON event_head TO stillroom_service;
GRANT UPDATE (title, preparation, approved_revision_id, last_number) ON formula TO stillroom_service;
GRANT UPDATE (set_number, caution_digest) ON gate TO stillroom_service;
GRANT UPDATE (name, description, version) ON library TO stillroom_service;
GRANT UPDATE (name, kind, current_version, merged_into) ON material TO stillroom_service;
GRANT UPDATE (material_id) ON material_synonym TO stillroom_service;
GRANT UPDATE (used_at) ON one_time_code TO stillroom_service;
GRANT UPDATE (name, role, state, version) ON person TO stillroom_service;
GRANT UPDATE (digest) ON reference_rule TO stillroom_service;
GRANT UPDATE (used_at) ON refresh_token TO stillroom_service;
GRANT UPDATE (digest, caution_digest, purpose, acknowledgement_id, valid_until, pulled, set_number) ON release_grant TO stillroom_service;
GRANT UPDATE (state, title, preparation, route, regime, version, proposed_at, digest, decided_by, decided_at, own_approval) ON revision TO stillroom_service;
GRANT UPDATE (content, salt, evaluation, form) ON revision_content TO stillroom_service;
GRANT UPDATE (form, salt, digest, event_id) ON row_digest TO stillroom_service;
GRANT UPDATE (role, idle_expires_at, ended_at) ON session TO stillroom_service;

-- Refuses a change of the columns that are named as arguments.
CREATE FUNCTION columns_never_change() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE
    before jsonb := to_jsonb(OLD);
    after jsonb := to_jsonb(NEW);
    name text;
BEGIN
    FOREACH name IN ARRAY TG_ARGV LOOP
        IF before -> name IS DISTINCT FROM after -> name THEN
            RAISE EXCEPTION '%.% never changes', TG_TABLE_NAME, name
                USING ERRCODE = 'integrity_constraint_violation';
        END IF;
    END LOOP;
    RETURN NEW;
END $$;
CREATE TRIGGER amendment_never_changes BEFORE UPDATE OF id, kind, change, reason, created_by, created_at ON amendment
    FOR EACH ROW EXECUTE FUNCTION columns_never_change('id', 'kind', 'change', 'reason', 'created_by', 'created_at');
CREATE TRIGGER api_client_never_changes BEFORE UPDATE OF id, key_hash, responsible_id, scopes, created_at, valid_until ON api_client
    FOR EACH ROW EXECUTE FUNCTION columns_never_change('id', 'key_hash', 'responsible_id', 'scopes', 'created_at', 'valid_until');
CREATE TRIGGER batch_never_changes BEFORE UPDATE OF id, number, revision_id, revision_digest, caution_digest, policy_version, maker_id, opened_at ON batch
    FOR EACH ROW EXECUTE FUNCTION columns_never_change('id', 'number', 'revision_id', 'revision_digest', 'caution_digest', 'policy_version', 'maker_id', 'opened_at');
CREATE TRIGGER formula_never_changes BEFORE UPDATE OF id, library_id, created_by, created_at ON formula
    FOR EACH ROW EXECUTE FUNCTION columns_never_change('id', 'library_id', 'created_by', 'created_at');
CREATE TRIGGER library_never_changes BEFORE UPDATE OF id, created_by, created_at ON library
    FOR EACH ROW EXECUTE FUNCTION columns_never_change('id', 'created_by', 'created_at');
CREATE TRIGGER material_never_changes BEFORE UPDATE OF id, reference_key ON material
    FOR EACH ROW EXECUTE FUNCTION columns_never_change('id', 'reference_key');
CREATE TRIGGER one_time_code_never_changes BEFORE UPDATE OF id, person_id, purpose, code_hash, created_at, valid_until ON one_time_code
    FOR EACH ROW EXECUTE FUNCTION columns_never_change('id', 'person_id', 'purpose', 'code_hash', 'created_at', 'valid_until');
CREATE TRIGGER person_never_changes BEFORE UPDATE OF id, created_at ON person
    FOR EACH ROW EXECUTE FUNCTION columns_never_change('id', 'created_at');
CREATE TRIGGER session_never_changes BEFORE UPDATE OF id, person_id, started_at, valid_until ON session
    FOR EACH ROW EXECUTE FUNCTION columns_never_change('id', 'person_id', 'started_at', 'valid_until');

-- What was decided about an amendment stays decided.
CREATE FUNCTION amendment_stays_decided() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF OLD.state <> 'awaiting_second_person' AND NEW IS DISTINCT FROM OLD THEN
        RAISE EXCEPTION 'amendment % was decided', OLD.id USING ERRCODE = 'integrity_constraint_violation';
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER amendment_stays_decided BEFORE UPDATE ON amendment
    FOR EACH ROW EXECUTE FUNCTION amendment_stays_decided();
