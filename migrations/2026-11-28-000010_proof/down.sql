DROP TABLE event_order;
DROP TABLE event_unnumbered;
DROP TABLE row_digest;
ALTER TABLE event DROP COLUMN form;
