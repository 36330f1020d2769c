-- What was written stays legible: it goes into the note of its entry.
UPDATE batch_entry SET
    note = left(concat_ws('; ', 'pH ' || trim_scale(ph), 'lot good until ' || lot_expires,
        'assay ' || assay, 'price ' || price, note), 4000),
    kind = CASE WHEN kind = 'ph' THEN 'observation' ELSE kind END,
    quantity = CASE WHEN kind = 'ph' THEN NULL ELSE quantity END,
    ph = NULL, lot_expires = NULL, assay = NULL, price = NULL
WHERE kind = 'ph' OR lot_expires IS NOT NULL OR assay IS NOT NULL OR price IS NOT NULL;

ALTER TABLE batch_entry DROP COLUMN price;
ALTER TABLE batch_entry DROP COLUMN assay;
ALTER TABLE batch_entry DROP COLUMN lot_expires;
ALTER TABLE batch_entry DROP COLUMN ph;
ALTER TABLE batch_entry DROP CONSTRAINT batch_entry_kind_check;
ALTER TABLE batch_entry ADD CONSTRAINT batch_entry_kind_check
    CHECK (kind IN ('weighing', 'temperature', 'observation', 'step_done', 'yield'));

ALTER TABLE policy DROP COLUMN dating_sets_off;
