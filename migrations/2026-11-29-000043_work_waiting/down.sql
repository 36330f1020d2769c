DROP TRIGGER work_is_noted ON handed_trace;
DROP TRIGGER work_waits ON handed_work;
DROP FUNCTION work_is_noted();
DROP FUNCTION work_waits();
DROP FUNCTION work_waiting_noted(handed_trace);
DROP FUNCTION work_waiting_begins(handed_work);
DROP TABLE work_waiting;
