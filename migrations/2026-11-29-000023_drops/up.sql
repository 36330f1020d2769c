-- Drops in a millilitre from the clinic's own dropper, by kind of liquid. Versions from before have none, and their digests
-- leave out what has no value.
ALTER TABLE policy ADD COLUMN drops_per_ml jsonb
    CONSTRAINT policy_drops_per_ml_check CHECK (jsonb_typeof(drops_per_ml) = 'object');
