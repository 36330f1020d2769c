DROP TABLE work_mark_criterion;
DROP TABLE work_mark;
DROP TABLE work_claim;
DROP TABLE declared_relation;
DROP FUNCTION work_mark_follows_rubric;
DROP FUNCTION work_mark_is_claimed;
DROP FUNCTION work_claim_holds;
DROP FUNCTION marker_is_another;
