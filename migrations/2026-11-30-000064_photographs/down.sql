DROP TABLE photograph_withdrawal;
DROP TABLE batch_photograph;
DROP FUNCTION handed_photograph_stays();
DROP FUNCTION photograph_while_written();
