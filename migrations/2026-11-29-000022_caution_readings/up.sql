-- How a caution set is read: group, stage and label text of each of its cautions, and what was looked at and not raised.
-- A table of its own, since the digest over a caution set covers the columns of its rows. Sets from before have none.
CREATE TABLE caution_reading (
    revision_id uuid NOT NULL,
    set_number integer NOT NULL,
    reading jsonb NOT NULL,
    PRIMARY KEY (revision_id, set_number),
    FOREIGN KEY (revision_id, set_number) REFERENCES caution_set (revision_id, number)
);

GRANT SELECT, INSERT ON caution_reading TO stillroom_service;
