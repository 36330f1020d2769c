-- A name of the reference data that has become ambiguous leads nowhere any more.
GRANT DELETE ON material_synonym TO stillroom_service;
