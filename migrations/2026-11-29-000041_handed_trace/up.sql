-- How a record came about that was handed in, without any amount. `figures` is a digest under the assignment's secret.
CREATE TABLE handed_trace (
    handed_id uuid PRIMARY KEY REFERENCES handed_work (id),
    assignment_id uuid NOT NULL REFERENCES assignment (id),
    figures bytea CHECK (octet_length(figures) = 32),
    unvaried boolean NOT NULL,
    seconds integer CHECK (seconds >= 0)
);
CREATE INDEX handed_trace_alike ON handed_trace (assignment_id, figures);

GRANT SELECT, INSERT ON handed_trace TO stillroom_service;
