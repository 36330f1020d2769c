-- More time for one student, or an absence that is excused. The last one counts.
CREATE TABLE assignment_allowance (
    id uuid PRIMARY KEY,
    assignment_id uuid NOT NULL REFERENCES assignment (id),
    person_id uuid NOT NULL REFERENCES person (id),
    number integer NOT NULL CHECK (number > 0),
    kind text NOT NULL CHECK (kind IN ('extra_time', 'excused', 'as_everybody')),
    extra_minutes integer CHECK (extra_minutes > 0),
    reason text NOT NULL CHECK (reason <> ''),
    given_by uuid NOT NULL REFERENCES person (id),
    at timestamptz NOT NULL,
    CONSTRAINT assignment_allowance_once UNIQUE (assignment_id, person_id, number),
    CONSTRAINT assignment_allowance_time CHECK ((kind = 'extra_time') = (extra_minutes IS NOT NULL))
);
CREATE INDEX assignment_allowance_person ON assignment_allowance (person_id);
CREATE INDEX assignment_allowance_given_by ON assignment_allowance (given_by);

-- What a student is writing about the work. Only its author reads it; what is handed in is kept with the submission.
CREATE TABLE reflection_draft (
    work_id uuid PRIMARY KEY REFERENCES assignment_work (id),
    text text NOT NULL CHECK (char_length(text) <= 4000),
    version bigint NOT NULL,
    saved_at timestamptz NOT NULL
);

-- Which work a batch counts for: one.
CREATE TABLE work_batch (
    batch_id uuid PRIMARY KEY REFERENCES batch (id),
    work_id uuid NOT NULL REFERENCES assignment_work (id),
    CONSTRAINT work_batch_of UNIQUE (batch_id, work_id)
);
CREATE INDEX work_batch_work ON work_batch (work_id);

-- Work that was handed in: a submission of a batch record, under the version of the assignment that was in force.
CREATE TABLE handed_work (
    id uuid PRIMARY KEY,
    work_id uuid NOT NULL REFERENCES assignment_work (id),
    number integer NOT NULL CHECK (number > 0),
    batch_id uuid NOT NULL,
    submission_number integer NOT NULL,
    -- the last entry that was handed in
    last_entry integer NOT NULL,
    assignment_id uuid NOT NULL,
    version_number integer NOT NULL,
    allowance_id uuid REFERENCES assignment_allowance (id),
    -- when the request came in, which counts against the dates
    received_at timestamptz NOT NULL,
    late boolean NOT NULL,
    -- over the entries, the reflection and the rubric as they were
    salt bytea NOT NULL CHECK (octet_length(salt) = 16),
    digest bytea NOT NULL CHECK (octet_length(digest) = 32),
    state text NOT NULL CHECK (state IN ('submitted', 'returned', 'accepted', 'rejected')),
    CONSTRAINT handed_work_once UNIQUE (work_id, number),
    CONSTRAINT handed_work_of_batch UNIQUE (batch_id, submission_number),
    FOREIGN KEY (batch_id, submission_number) REFERENCES submission (batch_id, number),
    FOREIGN KEY (batch_id, work_id) REFERENCES work_batch (batch_id, work_id),
    FOREIGN KEY (assignment_id, version_number) REFERENCES assignment_version (assignment_id, number)
);
CREATE INDEX handed_work_batch_work ON handed_work (batch_id, work_id);
CREATE INDEX handed_work_version ON handed_work (assignment_id, version_number);
CREATE INDEX handed_work_allowance ON handed_work (allowance_id);
-- One waits at a time, so that two requests cannot hand in two.
CREATE UNIQUE INDEX handed_work_waits ON handed_work (work_id) WHERE state = 'submitted';
CREATE TRIGGER handed_work_never_changes
    BEFORE UPDATE OF id, work_id, number, batch_id, submission_number, last_entry, assignment_id, version_number,
        allowance_id, received_at, late, salt, digest ON handed_work
    FOR EACH ROW EXECUTE FUNCTION columns_never_change('id', 'work_id', 'number', 'batch_id', 'submission_number',
        'last_entry', 'assignment_id', 'version_number', 'allowance_id', 'received_at', 'late', 'salt', 'digest');

GRANT SELECT, INSERT ON assignment_allowance, reflection_draft, work_batch, handed_work TO stillroom_service;
GRANT UPDATE (text, version, saved_at) ON reflection_draft TO stillroom_service;
GRANT UPDATE (state) ON handed_work TO stillroom_service;
