-- What the million batches of many_submissions.sql were made of: 20,000 families of fifty batches, five deep. A lot of a herb
-- goes into one batch; what that made goes into two, theirs into four, theirs into eight, and theirs into thirty-five. Run by
-- the owner, after many_submissions.sql. Triggers that look at each row are left aside; references are not.
\set at '''2026-01-05 08:00:00+00'''
BEGIN;
ALTER TABLE lot DISABLE TRIGGER USER;
ALTER TABLE lot_balance DISABLE TRIGGER USER;
ALTER TABLE lot_movement DISABLE TRIGGER USER;
ALTER TABLE batch_entry DISABLE TRIGGER USER;
CREATE TEMPORARY TABLE family AS
SELECT id, revision_id, maker_id, (n / 50) AS family, n % 50 AS place, gen_random_uuid() AS entry_id
FROM (SELECT id, revision_id, maker_id, row_number() OVER () - 1 AS n FROM batch WHERE number LIKE 'many-%' LIMIT 1000000) b;
CREATE TEMPORARY TABLE planned AS
-- The first of each family, by a number that the driver knows.
SELECT ('00000000-0000-4000-8000-' || lpad(to_hex(family), 12, '0'))::uuid AS lot_id, NULL::uuid AS batch_id,
    NULL::uuid AS revision_id, family, -1 AS place, maker_id AS by_id
FROM family WHERE place = 0
UNION ALL
SELECT gen_random_uuid(), id, revision_id, family, place, maker_id FROM family WHERE place < 15;
CREATE INDEX ON planned (family, place);
INSERT INTO lot (id, number, material_id, batch_id, revision_id, state, supplier, supplier_lot, received_on, keeps_until,
    keeps_rule, amount, version, last_decision, received_by, received_at)
SELECT lot_id, 'T-' || lot_id, CASE WHEN batch_id IS NULL THEN (SELECT min(id::text)::uuid FROM material) END, batch_id,
    revision_id, 'usable', 'a supplier', 'S-1', '2026-01-05', '2027-01-05', 'one year', '1 kg', 1, 0, by_id, :at
FROM planned;
INSERT INTO lot_balance (lot_id, on_hand, last_movement) SELECT lot_id, 100, 1 FROM planned;
INSERT INTO batch_entry (id, batch_id, number, kind, line, quantity, grams, by_id, at, before_acknowledged)
SELECT entry_id, id, 1, 'weighing', '1.1', '10 g', 10, maker_id, :at, false FROM family;
INSERT INTO lot_movement (id, lot_id, number, kind, batch_id, entry_id, by_id, at)
SELECT gen_random_uuid(), l.lot_id, 1 + row_number() OVER (PARTITION BY l.lot_id ORDER BY b.place), 'used', b.id,
    b.entry_id, b.maker_id, :at
FROM family b JOIN planned l ON l.family = b.family
    AND l.place = CASE WHEN b.place = 0 THEN -1 WHEN b.place < 15 THEN (b.place - 1) / 2 ELSE 7 + (b.place - 15) % 8 END;
ALTER TABLE lot ENABLE TRIGGER USER;
ALTER TABLE lot_balance ENABLE TRIGGER USER;
ALTER TABLE lot_movement ENABLE TRIGGER USER;
ALTER TABLE batch_entry ENABLE TRIGGER USER;
COMMIT;
VACUUM (ANALYZE) lot, lot_balance, lot_movement, batch_entry;
