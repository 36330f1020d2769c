DROP FUNCTION purge_security_events(timestamptz, integer);
DROP TABLE security_event;
