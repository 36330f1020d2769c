DROP TABLE recall_outcome;
DROP TABLE recall_item;
DROP TABLE recall;
DROP FUNCTION recall_outcome_while_open();
DROP FUNCTION recall_closes_accounted();
DROP TRIGGER batch_stays_recalled ON batch;
DROP TRIGGER lot_stays_recalled ON lot;
DROP FUNCTION stays_recalled();
ALTER TABLE batch DROP CONSTRAINT batch_released_when_accepted;
ALTER TABLE batch ADD CONSTRAINT batch_check
    CHECK (disposition IN ('practice_only', 'quarantine', 'discarded') OR state = 'accepted');
ALTER TABLE lot_decision DROP CONSTRAINT lot_decision_decision_check;
ALTER TABLE lot_decision ADD CONSTRAINT lot_decision_decision_check
    CHECK (decision IN ('confirmed', 'not_confirmed', 'quarantined', 'discarded'));
ALTER TABLE lot DROP CONSTRAINT lot_state_check;
ALTER TABLE lot ADD CONSTRAINT lot_state_check CHECK (state IN ('quarantine', 'usable', 'discarded'));
