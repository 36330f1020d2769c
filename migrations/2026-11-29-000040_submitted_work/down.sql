DROP TABLE handed_work;
DROP TABLE work_batch;
DROP TABLE reflection_draft;
DROP TABLE assignment_allowance;
