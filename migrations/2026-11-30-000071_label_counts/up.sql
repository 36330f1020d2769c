-- How many labels were printed, used and destroyed: each a count.
ALTER TABLE batch_entry DROP CONSTRAINT batch_entry_kind_check;
ALTER TABLE batch_entry ADD CONSTRAINT batch_entry_kind_check CHECK (kind IN (
    'weighing', 'temperature', 'observation', 'step_done', 'yield', 'ph', 'water_activity', 'deviation',
    'evaporation_loss', 'transfer_loss', 'spill_loss', 'marc_loss', 'sample', 'marc_disposal',
    'cloth_disposal', 'spirit_disposal', 'appearance', 'smell', 'separation', 'ended', 'adjustment',
    'labels_printed', 'labels_used', 'labels_destroyed'));
ALTER TABLE batch_entry ADD COLUMN labels integer;
ALTER TABLE batch_entry ADD CONSTRAINT batch_entry_labels CHECK (CASE
    WHEN kind IN ('labels_printed', 'labels_used', 'labels_destroyed')
        THEN labels BETWEEN 1 AND 10000 AND quantity IS NOT NULL AND grams IS NULL AND line IS NULL AND step IS NULL
            AND labels IS NOT NULL
    ELSE labels IS NULL END);
