ALTER TABLE revision_content DROP COLUMN form;
DROP TABLE event_order;
DROP TABLE event_unnumbered;
DROP TABLE row_digest;
ALTER TABLE event DROP COLUMN form;
