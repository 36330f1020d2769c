CREATE TABLE library (
    id uuid PRIMARY KEY,
    name text NOT NULL CHECK (char_length(name) BETWEEN 1 AND 200),
    description text NOT NULL CHECK (char_length(description) <= 2000),
    version bigint NOT NULL,
    made_by uuid NOT NULL REFERENCES principal (id),
    made_at timestamptz NOT NULL
);
CREATE UNIQUE INDEX library_name ON library (lower(name));
CREATE INDEX library_name_order ON library (name COLLATE "C", id);
CREATE INDEX library_made_by ON library (made_by);

CREATE TABLE library_member (
    library_id uuid NOT NULL REFERENCES library (id),
    holder_id uuid NOT NULL REFERENCES principal (id),
    added_by uuid NOT NULL REFERENCES principal (id),
    added_at timestamptz NOT NULL,
    PRIMARY KEY (library_id, holder_id)
);
CREATE INDEX library_member_holder ON library_member (holder_id, library_id);
CREATE INDEX library_member_added_by ON library_member (added_by);

CREATE TABLE formula (
    id uuid PRIMARY KEY,
    library_id uuid NOT NULL REFERENCES library (id),
    title text NOT NULL CHECK (char_length(title) BETWEEN 1 AND 200),
    preparation text NOT NULL,
    approved_revision_id uuid,
    last_number integer NOT NULL CHECK (last_number > 0),
    made_by uuid NOT NULL REFERENCES principal (id),
    made_at timestamptz NOT NULL
);
CREATE INDEX formula_made_by ON formula (made_by);
CREATE INDEX formula_library_title ON formula (library_id, title COLLATE "C", id);
CREATE INDEX formula_library_title_approved ON formula (library_id, title COLLATE "C", id)
    WHERE approved_revision_id IS NOT NULL;
CREATE INDEX formula_title_lower ON formula (lower(title));

CREATE TABLE revision (
    id uuid PRIMARY KEY,
    formula_id uuid NOT NULL REFERENCES formula (id),
    number integer NOT NULL CHECK (number > 0),
    state text NOT NULL
        CHECK (state IN ('draft', 'proposed', 'returned', 'approved', 'superseded', 'withdrawn')),
    title text NOT NULL CHECK (char_length(title) BETWEEN 1 AND 200),
    preparation text NOT NULL,
    route text NOT NULL,
    regime text NOT NULL CHECK (regime IN ('cosmetic', 'herbal_medicine', 'food', 'teaching_only')),
    version bigint NOT NULL,
    author_id uuid NOT NULL REFERENCES person (id),
    made_at timestamptz NOT NULL,
    proposed_at timestamptz,
    digest bytea CHECK (octet_length(digest) = 32),
    decided_by uuid REFERENCES person (id),
    decided_at timestamptz,
    -- "approved by its author", allowed only where the policy switched the second person off
    own_approval boolean NOT NULL DEFAULT false,
    UNIQUE (formula_id, number),
    UNIQUE (id, formula_id),
    CHECK ((state = 'draft') = (digest IS NULL)),
    CHECK ((state IN ('draft', 'proposed')) = (decided_by IS NULL)),
    CHECK (decided_by IS NULL OR decided_by <> author_id OR own_approval OR state = 'returned')
);
-- One working revision and one approved revision at a time: a race loses here.
CREATE UNIQUE INDEX revision_one_in_work ON revision (formula_id) WHERE state IN ('draft', 'proposed');
CREATE UNIQUE INDEX revision_one_approved ON revision (formula_id) WHERE state = 'approved';
CREATE INDEX revision_author ON revision (author_id);
CREATE INDEX revision_decided_by ON revision (decided_by);
CREATE INDEX revision_in_state ON revision (state, id) WHERE state IN ('draft', 'proposed');
ALTER TABLE formula ADD FOREIGN KEY (approved_revision_id, id) REFERENCES revision (id, formula_id);
CREATE INDEX formula_approved_revision ON formula (approved_revision_id, id);

-- What members may see without acknowledging: the names and their order. Written when proposed.
CREATE TABLE revision_ingredient (
    revision_id uuid NOT NULL REFERENCES revision (id),
    phase smallint NOT NULL CHECK (phase > 0),
    line smallint NOT NULL CHECK (line > 0),
    phase_name text NOT NULL,
    name text NOT NULL,
    function text,
    material_id uuid,
    material_version integer,
    nested_revision_id uuid REFERENCES revision (id),
    PRIMARY KEY (revision_id, phase, line),
    FOREIGN KEY (material_id, material_version) REFERENCES material_version (material_id, version),
    CHECK ((material_id IS NULL) <> (nested_revision_id IS NULL)),
    CHECK ((material_id IS NULL) = (material_version IS NULL))
);
CREATE INDEX revision_ingredient_material ON revision_ingredient (material_id, material_version);
CREATE INDEX revision_ingredient_nested ON revision_ingredient (nested_revision_id);

-- Who contains what through every level, so that a change to a herb finds its formulas at once.
CREATE TABLE revision_material (
    revision_id uuid NOT NULL REFERENCES revision (id),
    material_id uuid NOT NULL REFERENCES material (id),
    PRIMARY KEY (revision_id, material_id)
);
CREATE INDEX revision_material_material ON revision_material (material_id, revision_id);
CREATE TABLE revision_nested (
    revision_id uuid NOT NULL REFERENCES revision (id),
    nested_id uuid NOT NULL REFERENCES revision (id),
    PRIMARY KEY (revision_id, nested_id),
    CHECK (revision_id <> nested_id)
);
CREATE INDEX revision_nested_nested ON revision_nested (nested_id, revision_id);

-- Nobody's content but a draft's may change, whoever asks.
CREATE FUNCTION revision_stays_frozen() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF OLD.digest IS NOT NULL AND (NEW.digest IS DISTINCT FROM OLD.digest OR NEW.title <> OLD.title
        OR NEW.preparation <> OLD.preparation OR NEW.route <> OLD.route OR NEW.regime <> OLD.regime
        OR NEW.author_id <> OLD.author_id OR NEW.formula_id <> OLD.formula_id OR NEW.number <> OLD.number) THEN
        RAISE EXCEPTION 'revision % is frozen', OLD.id USING ERRCODE = 'integrity_constraint_violation';
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER revision_stays_frozen BEFORE UPDATE ON revision
    FOR EACH ROW EXECUTE FUNCTION revision_stays_frozen();

GRANT SELECT, INSERT, UPDATE ON library, formula, revision TO stillroom_service;
GRANT SELECT, INSERT, DELETE ON library_member TO stillroom_service;
GRANT SELECT, INSERT ON revision_ingredient, revision_material, revision_nested TO stillroom_service;
