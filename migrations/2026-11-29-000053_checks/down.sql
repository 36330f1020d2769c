DROP TRIGGER weighing_after_check_weight ON batch_entry;
DROP FUNCTION weighing_after_check_weight();
DROP TRIGGER batch_checks_asked_never_changes ON batch;
ALTER TABLE batch DROP COLUMN checks_asked;
DROP TABLE batch_check;
