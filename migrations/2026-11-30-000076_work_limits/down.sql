DROP FUNCTION offers_both(uuid, uuid, uuid);
DROP TRIGGER work_limit_ends_with_membership ON cohort_member;
DROP FUNCTION work_limit_ends_with_membership();
DROP TABLE work_limit_words;
DROP TABLE work_limit;
