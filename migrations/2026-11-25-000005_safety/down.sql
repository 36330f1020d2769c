DROP TABLE door;
DROP TABLE acknowledgement;
DROP TABLE gate;
DROP TABLE caution;
DROP TABLE caution_set;
DROP TABLE revision_comment;
DROP TABLE revision_content;
DROP FUNCTION content_stays_frozen();
