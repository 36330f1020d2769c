-- What was computed of a revision when it froze, by which version of the calculations: recipes are scaled from it, so
-- that a revision comes out the same after the calculations are improved. Only the crate `release` reads or writes it.
CREATE TABLE revision_result (
    revision_id uuid PRIMARY KEY REFERENCES revision (id),
    engine integer NOT NULL CHECK (engine > 0),
    result text NOT NULL,
    at timestamptz NOT NULL
);
GRANT SELECT, INSERT ON revision_result TO stillroom_service;

-- Which of what was computed the digest beside a caution set names: 1 with every sentence, 2 values and verdicts alone.
ALTER TABLE caution_set ADD COLUMN evaluation_form smallint NOT NULL DEFAULT 1 CHECK (evaluation_form IN (1, 2));
ALTER TABLE caution_set ALTER COLUMN evaluation_form DROP DEFAULT;

-- The digest of values and verdicts for caution sets from before that form: taken with the facts of the day on which
-- this version was installed, so that the next change of a fact is compared with what was acknowledged.
CREATE TABLE older_evaluation (
    revision_id uuid NOT NULL,
    set_number integer NOT NULL,
    digest bytea NOT NULL CHECK (octet_length(digest) = 32),
    PRIMARY KEY (revision_id, set_number),
    FOREIGN KEY (revision_id, set_number) REFERENCES caution_set (revision_id, number)
);
GRANT SELECT, INSERT ON older_evaluation TO stillroom_service;

-- Another version of the calculations is listed like a new edition of the reference data: nobody made it.
ALTER TABLE amendment DROP CONSTRAINT amendment_kind_check;
ALTER TABLE amendment ADD CONSTRAINT amendment_kind_check CHECK (kind IN ('reference_data', 'engine', 'add_material',
    'revise_material', 'merge_materials', 'import_materials', 'add_caution', 'change_caution'));
ALTER TABLE amendment DROP CONSTRAINT amendment_check3;
ALTER TABLE amendment ADD CONSTRAINT amendment_of_nobody
    CHECK ((kind IN ('reference_data', 'engine')) = (created_by IS NULL));
