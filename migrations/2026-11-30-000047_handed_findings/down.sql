DROP TRIGGER handed_work_has_findings ON handed_work;
DROP FUNCTION handed_work_has_findings();
DROP FUNCTION handed_findings_of(handed_work);
DROP TABLE handed_finding;
