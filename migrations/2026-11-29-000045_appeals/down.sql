DROP TABLE appeal_decision;
DROP FUNCTION appeal_decided_by_another();
DROP TABLE appeal;
DROP FUNCTION appeal_is_of_last_mark();
