-- Finding materials by names that are misspelt.
CREATE EXTENSION IF NOT EXISTS pg_trgm;

-- A merged material stays as an alias: formulas that name it keep doing so, its facts are those of the other.
ALTER TABLE material ADD COLUMN merged_into uuid REFERENCES material (id);
ALTER TABLE material ADD CONSTRAINT material_not_into_itself CHECK (merged_into <> id);
CREATE INDEX material_merged_into ON material (merged_into);

-- Every name that a material is searched by. Unlike a synonym, a term may lead to several materials.
CREATE TABLE material_term (
    material_id uuid NOT NULL REFERENCES material (id),
    term text NOT NULL CHECK (term = lower(term)),
    PRIMARY KEY (material_id, term)
);
CREATE INDEX material_term_trigrams ON material_term USING gin (term gin_trgm_ops);
INSERT INTO material_term (material_id, term) SELECT id, lower(name) FROM material;
INSERT INTO material_term (material_id, term) SELECT material_id, synonym FROM material_synonym
    ON CONFLICT DO NOTHING;
INSERT INTO material_term (material_id, term)
    SELECT m.id, lower(names.name)
    FROM material m JOIN material_version v ON v.material_id = m.id AND v.version = m.current_version,
        LATERAL (
            SELECT v.facts ->> 'inci' AS name
            UNION ALL SELECT v.facts #>> '{botanical,species,name}'
            UNION ALL SELECT jsonb_array_elements_text(v.facts -> 'synonyms')
        ) AS names
    WHERE names.name IS NOT NULL
    ON CONFLICT DO NOTHING;

-- A change of what everybody relies on: of materials, and of the clinic's own cautions. What makes something less
-- cautious, or touches the safety of a material, waits for a second person.
CREATE TABLE amendment (
    id uuid PRIMARY KEY,
    kind text NOT NULL CHECK (kind IN ('reference_data', 'add_material', 'revise_material', 'merge_materials',
        'import_materials', 'add_caution', 'change_caution')),
    state text NOT NULL CHECK (state IN ('awaiting_second_person', 'in_force', 'refused')),
    change jsonb NOT NULL,
    reason text NOT NULL CHECK (char_length(reason) BETWEEN 1 AND 2000),
    -- nobody, where the reference data brought it
    made_by uuid REFERENCES person (id),
    made_at timestamptz NOT NULL,
    decided_by uuid REFERENCES person (id),
    decided_at timestamptz,
    -- "decided by its author", allowed only where the policy switched the second person off
    own_decision boolean NOT NULL DEFAULT false,
    CHECK (decided_by IS NULL OR made_by IS NULL OR decided_by <> made_by OR own_decision),
    CHECK (state <> 'awaiting_second_person' OR decided_at IS NULL),
    CHECK (state = 'awaiting_second_person' OR decided_at IS NOT NULL),
    CHECK ((kind = 'reference_data') = (made_by IS NULL))
);
CREATE INDEX amendment_made_by ON amendment (made_by);
CREATE INDEX amendment_decided_by ON amendment (decided_by);
CREATE INDEX amendment_awaiting ON amendment (id) WHERE state = 'awaiting_second_person';
CREATE INDEX amendment_cautions ON amendment (decided_at, id)
    WHERE state = 'in_force' AND kind IN ('add_caution', 'change_caution');

-- Which materials an amendment touched, so that a merged or revised one tells its history.
CREATE TABLE amendment_material (
    amendment_id uuid NOT NULL REFERENCES amendment (id),
    material_id uuid NOT NULL REFERENCES material (id),
    PRIMARY KEY (amendment_id, material_id)
);
CREATE INDEX amendment_material_material ON amendment_material (material_id);

-- The reference data's rules (limits, allergens, stops, kinds, routes, calculated cautions) as they were last loaded:
-- what has another digest at the next start has changed.
CREATE TABLE reference_rule (
    key text PRIMARY KEY,
    digest bytea NOT NULL CHECK (octet_length(digest) = 32)
);

-- The rule that a caution comes from: several cautions of a set may come from one and read differently.
ALTER TABLE caution ADD COLUMN rule text;
UPDATE caution SET rule = key;
ALTER TABLE caution ALTER COLUMN rule SET NOT NULL;
CREATE INDEX caution_rule ON caution (rule, revision_id);
-- What the clinic made of its level, and why.
ALTER TABLE caution ADD COLUMN changed jsonb;
-- How the revision came out when the set was made; a change of facts shows as another digest.
ALTER TABLE caution_set ADD COLUMN evaluation_digest bytea CHECK (octet_length(evaluation_digest) = 32);

-- What an amendment did to revisions that can be made or decided about.
CREATE TABLE amendment_effect (
    amendment_id uuid NOT NULL REFERENCES amendment (id),
    revision_id uuid NOT NULL,
    set_number integer NOT NULL,
    cautions_changed boolean NOT NULL,
    evaluation_changed boolean NOT NULL,
    withheld boolean NOT NULL,
    PRIMARY KEY (amendment_id, revision_id),
    FOREIGN KEY (revision_id, set_number) REFERENCES caution_set (revision_id, number)
);
CREATE INDEX amendment_effect_set ON amendment_effect (revision_id, set_number);

-- Approved revisions that gained a stop: nobody makes them until an instructor has decided.
CREATE TABLE withholding (
    revision_id uuid PRIMARY KEY REFERENCES revision (id),
    amendment_id uuid NOT NULL REFERENCES amendment (id),
    since timestamptz NOT NULL
);
CREATE INDEX withholding_amendment ON withholding (amendment_id);

-- Who read the recipe that an acknowledgement opened, from when on.
CREATE TABLE recipe_pull (
    acknowledgement_id uuid PRIMARY KEY REFERENCES acknowledgement (id),
    at timestamptz NOT NULL
);
ALTER TABLE door ADD COLUMN pulled boolean NOT NULL DEFAULT false;
-- Which of the revision's caution sets is shown behind it: the notes of a set may change while its door stays open.
ALTER TABLE door ADD COLUMN set_number integer;
UPDATE door SET set_number = a.set_number FROM acknowledgement a WHERE a.id = door.acknowledgement_id;
ALTER TABLE door ALTER COLUMN set_number SET NOT NULL;

-- For whom a recipe is released. Some audiences need an instructor's countersignature first.
ALTER TABLE policy ADD COLUMN countersign_audiences jsonb NOT NULL
    DEFAULT '["pregnant", "breast-feeding", "under:3y"]';
ALTER TABLE acknowledgement ADD COLUMN meant_for jsonb NOT NULL DEFAULT '[]';
ALTER TABLE acknowledgement ADD COLUMN countersign boolean NOT NULL DEFAULT false;
CREATE TABLE countersignature (
    acknowledgement_id uuid PRIMARY KEY REFERENCES acknowledgement (id),
    by_id uuid NOT NULL REFERENCES person (id),
    at timestamptz NOT NULL
);
CREATE INDEX countersignature_by ON countersignature (by_id);
CREATE INDEX acknowledgement_countersign ON acknowledgement (id) WHERE countersign;

GRANT SELECT, INSERT, DELETE ON material_term TO stillroom_service;
GRANT SELECT, INSERT, UPDATE ON amendment TO stillroom_service;
GRANT SELECT, INSERT, UPDATE, DELETE ON reference_rule TO stillroom_service;
GRANT SELECT, INSERT ON amendment_material, amendment_effect, recipe_pull, countersignature TO stillroom_service;
GRANT SELECT, INSERT, DELETE ON withholding TO stillroom_service;
-- A name that led to a merged material leads to the other from then on.
GRANT UPDATE ON material_synonym TO stillroom_service;
-- A maker whose batch is in hand when its revision can no longer be made acknowledges to go on with the record.
ALTER TABLE acknowledgement DROP CONSTRAINT acknowledgement_purpose_check;
ALTER TABLE acknowledgement ADD CONSTRAINT acknowledgement_purpose_check
    CHECK (purpose IN ('make', 'decide', 'record'));
-- Why something that was withheld may be made again stands with the other decisions about it.
ALTER TABLE revision_comment DROP CONSTRAINT revision_comment_decision_check;
ALTER TABLE revision_comment ADD CONSTRAINT revision_comment_decision_check
    CHECK (decision IN ('return', 'approve', 'withdraw', 'reinstate'));
