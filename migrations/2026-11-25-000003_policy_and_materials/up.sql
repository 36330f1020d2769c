-- The clinic's own rules. A change is a new version; a batch names the one it was made under.
CREATE TABLE policy (
    version integer PRIMARY KEY CHECK (version > 0),
    clinic_name text NOT NULL,
    notice text NOT NULL,
    time_zone text NOT NULL,
    currency text NOT NULL CHECK (currency ~ '^[A-Z]{3}$'),
    -- which cups, spoons and fluid ounces are meant when none are named
    customary text NOT NULL CHECK (customary IN ('us', 'imperial', 'metric')),
    -- approvals need a second person
    second_person boolean NOT NULL,
    acknowledgement_days integer NOT NULL CHECK (acknowledgement_days BETWEEN 1 AND 3650),
    tolerance_percent numeric NOT NULL CHECK (tolerance_percent > 0 AND tolerance_percent <= 100),
    active_tolerance_percent numeric NOT NULL
        CHECK (active_tolerance_percent > 0 AND active_tolerance_percent <= 100),
    made_by uuid REFERENCES principal (id),
    made_at timestamptz NOT NULL,
    reason text NOT NULL
);
CREATE INDEX policy_made_by ON policy (made_by);

-- One entry of the materia medica. Its facts are versioned beside it.
CREATE TABLE material (
    id uuid PRIMARY KEY,
    -- the reference data's own name for it; NULL for what the clinic added
    reference_key text UNIQUE,
    name text NOT NULL CHECK (char_length(name) BETWEEN 1 AND 200),
    kind text NOT NULL,
    current_version integer NOT NULL CHECK (current_version > 0)
);
CREATE UNIQUE INDEX material_name ON material (lower(name));
CREATE INDEX material_name_order ON material (name COLLATE "C", id);

CREATE TABLE material_version (
    material_id uuid NOT NULL REFERENCES material (id),
    version integer NOT NULL CHECK (version > 0),
    -- density, water, cautions and so on, each with its source
    facts jsonb NOT NULL,
    digest bytea NOT NULL CHECK (octet_length(digest) = 32),
    reference_version text,
    made_by uuid REFERENCES principal (id),
    made_at timestamptz NOT NULL,
    PRIMARY KEY (material_id, version)
);
CREATE INDEX material_version_made_by ON material_version (made_by);
ALTER TABLE material ADD FOREIGN KEY (id, current_version)
    REFERENCES material_version (material_id, version) DEFERRABLE INITIALLY DEFERRED;
CREATE INDEX material_current ON material (id, current_version);

-- Other names a material is known by, each leading to one material only.
CREATE TABLE material_synonym (
    synonym text PRIMARY KEY CHECK (synonym = lower(synonym)),
    material_id uuid NOT NULL REFERENCES material (id)
);
CREATE INDEX material_synonym_material ON material_synonym (material_id);

GRANT SELECT, INSERT ON policy, material_version, material_synonym TO stillroom_service;
GRANT SELECT, INSERT, UPDATE ON material TO stillroom_service;
