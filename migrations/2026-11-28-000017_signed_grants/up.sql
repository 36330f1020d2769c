-- A grant is for whoever acknowledged, and one to make exists only where no countersignature is asked for or it is
-- there. Acknowledgements and countersignatures are append-only, so that what held when the grant was written holds on.
CREATE FUNCTION release_grant_holds() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE
    given acknowledgement;
BEGIN
    SELECT * INTO STRICT given FROM acknowledgement WHERE id = NEW.acknowledgement_id;
    IF given.holder_id <> NEW.holder_id OR given.revision_id <> NEW.revision_id
        OR given.revision_digest <> NEW.digest OR given.purpose = 'record' THEN
        RAISE EXCEPTION 'acknowledgement % is of another holder, revision or purpose than its grant', given.id
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'release_grant_is_its_holders';
    END IF;
    IF NEW.purpose = 'make' AND given.countersign
        AND NOT EXISTS (SELECT FROM countersignature WHERE acknowledgement_id = given.id) THEN
        RAISE EXCEPTION 'acknowledgement % asks for a countersignature and has none', given.id
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'release_grant_is_signed';
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER release_grant_holds
    BEFORE INSERT OR UPDATE OF holder_id, revision_id, digest, purpose, acknowledgement_id ON release_grant
    FOR EACH ROW EXECUTE FUNCTION release_grant_holds();

-- Nobody signs their own acknowledgement, nor one that asks for no signature.
CREATE FUNCTION countersignature_holds() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE
    given acknowledgement;
BEGIN
    SELECT * INTO STRICT given FROM acknowledgement WHERE id = NEW.acknowledgement_id;
    IF NEW.by_id IN (given.holder_id, given.given_by) THEN
        RAISE EXCEPTION 'acknowledgement % is countersigned by whoever gave it', given.id
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'countersignature_is_anothers';
    END IF;
    IF NOT given.countersign THEN
        RAISE EXCEPTION 'acknowledgement % asks for no countersignature', given.id
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'countersignature_is_asked_for';
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER countersignature_holds BEFORE INSERT OR UPDATE ON countersignature
    FOR EACH ROW EXECUTE FUNCTION countersignature_holds();
