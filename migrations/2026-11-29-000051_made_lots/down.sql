-- What was made is on no shelf before this; its lots go with their movements, whose entries keep what they weighed.
DROP TRIGGER lot_decision_says_whose ON lot_decision;
DROP FUNCTION lot_decision_says_whose();
ALTER TABLE lot_decision DROP CONSTRAINT lot_decision_own, DROP COLUMN own_decision;
DROP TRIGGER lot_made_no_more ON lot_movement;
DROP FUNCTION lot_made_no_more();
DROP TRIGGER lot_of_accepted_batch ON lot;
DROP FUNCTION lot_of_accepted_batch();
DROP TRIGGER lot_made_never_changes ON lot;
DELETE FROM lot_balance WHERE lot_id IN (SELECT id FROM lot WHERE batch_id IS NOT NULL);
DELETE FROM lot_movement WHERE lot_id IN (SELECT id FROM lot WHERE batch_id IS NOT NULL);
DELETE FROM lot_decision WHERE lot_id IN (SELECT id FROM lot WHERE batch_id IS NOT NULL);
DELETE FROM lot WHERE batch_id IS NOT NULL;
DROP INDEX lot_revision;
DROP INDEX lot_batch;
ALTER TABLE lot
    DROP CONSTRAINT lot_made, DROP CONSTRAINT lot_of_one, DROP CONSTRAINT lot_of_batch, DROP COLUMN revision_id,
    DROP COLUMN batch_id;
ALTER TABLE lot ALTER COLUMN material_id SET NOT NULL;
ALTER TABLE batch DROP CONSTRAINT batch_of_revision;
