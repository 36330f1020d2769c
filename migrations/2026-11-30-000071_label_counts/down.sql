-- What was written stays legible: it goes into the note of its entry.
ALTER TABLE batch_entry DROP COLUMN labels;
UPDATE batch_entry SET note = left(concat_ws('; ', replace(kind, '_', ' ') || ' ' || quantity, note), 4000),
    kind = 'observation', quantity = NULL
WHERE kind IN ('labels_printed', 'labels_used', 'labels_destroyed');
ALTER TABLE batch_entry DROP CONSTRAINT batch_entry_kind_check;
ALTER TABLE batch_entry ADD CONSTRAINT batch_entry_kind_check CHECK (kind IN (
    'weighing', 'temperature', 'observation', 'step_done', 'yield', 'ph', 'water_activity', 'deviation',
    'evaporation_loss', 'transfer_loss', 'spill_loss', 'marc_loss', 'sample', 'marc_disposal',
    'cloth_disposal', 'spirit_disposal', 'appearance', 'smell', 'separation', 'ended', 'adjustment'));
