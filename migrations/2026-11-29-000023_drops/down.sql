ALTER TABLE policy DROP COLUMN drops_per_ml;
