DROP TABLE event;
DROP TABLE event_head;
