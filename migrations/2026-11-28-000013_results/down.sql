DELETE FROM amendment_effect WHERE amendment_id IN (SELECT id FROM amendment WHERE kind = 'engine');
DELETE FROM amendment WHERE kind = 'engine';
ALTER TABLE amendment DROP CONSTRAINT amendment_of_nobody;
ALTER TABLE amendment ADD CONSTRAINT amendment_check3 CHECK ((kind = 'reference_data') = (created_by IS NULL));
ALTER TABLE amendment DROP CONSTRAINT amendment_kind_check;
ALTER TABLE amendment ADD CONSTRAINT amendment_kind_check CHECK (kind IN ('reference_data', 'add_material',
    'revise_material', 'merge_materials', 'import_materials', 'add_caution', 'change_caution'));
DROP TABLE older_evaluation;
ALTER TABLE caution_set DROP COLUMN evaluation_form;
DROP TABLE revision_result;
