-- What became of what went in, besides the yield: losses by kind, samples kept, what was disposed of; what was seen while it
-- was made; and that it ended.
ALTER TABLE batch_entry DROP CONSTRAINT batch_entry_kind_check;
ALTER TABLE batch_entry ADD CONSTRAINT batch_entry_kind_check CHECK (kind IN (
    'weighing', 'temperature', 'observation', 'step_done', 'yield', 'ph', 'water_activity', 'deviation',
    'evaporation_loss', 'transfer_loss', 'spill_loss', 'marc_loss', 'sample', 'marc_disposal',
    'cloth_disposal', 'spirit_disposal', 'appearance', 'smell', 'separation', 'ended'));
ALTER TABLE batch_entry ADD CONSTRAINT batch_entry_outcome CHECK (CASE
    WHEN kind IN ('evaporation_loss', 'transfer_loss', 'spill_loss', 'marc_loss', 'sample')
        THEN quantity IS NOT NULL AND grams IS NOT NULL AND line IS NULL AND step IS NULL
    WHEN kind IN ('marc_disposal', 'cloth_disposal', 'spirit_disposal', 'appearance', 'smell', 'separation')
        THEN note IS NOT NULL AND grams IS NULL
    WHEN kind = 'ended' THEN grams IS NULL AND line IS NULL AND step IS NULL ELSE true END);
