-- Rule sets for use-by dates that the clinic has switched off: [{"set": ..., "reason": ...}], each with its reason.
ALTER TABLE policy ADD COLUMN dating_sets_off jsonb NOT NULL DEFAULT '[]'
    CONSTRAINT policy_dating_sets_off_check CHECK (jsonb_typeof(dating_sets_off) = 'array');

-- A measured pH: as typed in quantity, and as a number.
ALTER TABLE batch_entry DROP CONSTRAINT batch_entry_kind_check;
ALTER TABLE batch_entry ADD CONSTRAINT batch_entry_kind_check
    CHECK (kind IN ('weighing', 'temperature', 'observation', 'step_done', 'yield', 'ph'));
ALTER TABLE batch_entry ADD COLUMN ph numeric;
ALTER TABLE batch_entry ADD CONSTRAINT batch_entry_ph_check
    CHECK ((kind = 'ph') = (ph IS NOT NULL) AND (ph IS NULL OR ph BETWEEN 0 AND 14));

-- Of the lot that was weighed: until when it is good, a day or a month, and its price in the clinic's currency, such as
-- "12.50 per 100 g"; both as typed.
ALTER TABLE batch_entry ADD COLUMN lot_expires text;
ALTER TABLE batch_entry ADD CONSTRAINT batch_entry_lot_expires_check
    CHECK (lot_expires IS NULL OR (kind = 'weighing' AND lot_expires ~ '^[0-9]{4}-[0-9]{2}(-[0-9]{2})?$'));
-- The lot's own assay of a substance that is limited by the day, as typed: "0.5 ug/g pyrrolizidine alkaloids".
ALTER TABLE batch_entry ADD COLUMN assay text;
ALTER TABLE batch_entry ADD CONSTRAINT batch_entry_assay_check
    CHECK (assay IS NULL OR (kind = 'weighing' AND char_length(assay) BETWEEN 1 AND 200));
ALTER TABLE batch_entry ADD COLUMN price text;
ALTER TABLE batch_entry ADD CONSTRAINT batch_entry_price_check
    CHECK (price IS NULL OR (kind = 'weighing' AND char_length(price) BETWEEN 1 AND 100));
