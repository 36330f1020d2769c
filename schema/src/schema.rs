// Printed from the database by the test `schema_is_the_databases`; run it with UPDATE_SCHEMA=1 after a migration.

