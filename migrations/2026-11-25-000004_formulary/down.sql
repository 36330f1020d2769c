DROP TABLE revision_nested;
DROP TABLE revision_material;
DROP TABLE revision_ingredient;
ALTER TABLE formula DROP CONSTRAINT formula_approved_revision_id_id_fkey;
DROP TABLE revision;
DROP FUNCTION revision_stays_frozen();
DROP TABLE formula;
DROP TABLE library_member;
DROP TABLE library;
