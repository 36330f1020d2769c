DROP TABLE material_synonym;
ALTER TABLE material DROP CONSTRAINT material_id_current_version_fkey;
DROP TABLE material_version;
DROP TABLE material;
DROP TABLE policy;
