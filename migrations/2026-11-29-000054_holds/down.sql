DROP FUNCTION batch_hold_waits(uuid);
DROP TRIGGER hold_is_done ON batch_hold_release;
DROP TABLE batch_hold_release;
DROP FUNCTION hold_is_done();
DROP TRIGGER step_goes_on ON batch_entry;
DROP FUNCTION step_goes_on();
DROP FUNCTION step_barred(uuid, text, integer, uuid);
DROP FUNCTION batch_steps_done(uuid, uuid);
