-- Whether markers see who made what they mark, by the version of an assignment. Nothing is no.
ALTER TABLE assignment_version ADD COLUMN marked_blind boolean CONSTRAINT assignment_version_blind CHECK (marked_blind);

-- Names are shown for good: a published assignment may stop being marked blind, and never begins to.
CREATE FUNCTION blind_from_the_first() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF NEW.marked_blind AND EXISTS (SELECT FROM assignment a WHERE a.id = NEW.assignment_id AND a.state <> 'draft')
        AND NOT EXISTS (SELECT FROM assignment_version v
            WHERE v.assignment_id = NEW.assignment_id AND v.number = NEW.number - 1 AND v.marked_blind) THEN
        RAISE EXCEPTION 'assignment % was published without blind marking', NEW.assignment_id
            USING ERRCODE = 'integrity_constraint_violation', CONSTRAINT = 'blind_from_the_first';
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER blind_from_the_first BEFORE INSERT ON assignment_version
    FOR EACH ROW EXECUTE FUNCTION blind_from_the_first();

-- What stands in place of a student's name while work is marked blind. It never changes.
CREATE TABLE candidate (
    work_id uuid PRIMARY KEY REFERENCES assignment_work (id),
    assignment_id uuid NOT NULL REFERENCES assignment (id),
    label text NOT NULL CHECK (label ~ '^[0-9A-Z]{2,4}$'),
    CONSTRAINT candidate_once UNIQUE (assignment_id, label)
);

-- Whether an assignment is marked blind. Its withdrawal ends that, as a version that says so does.
CREATE FUNCTION marked_blind(of_assignment uuid) RETURNS boolean LANGUAGE sql STABLE AS $$
    SELECT EXISTS (SELECT FROM assignment a
        JOIN assignment_version v ON v.assignment_id = a.id AND v.number = a.current_version
        WHERE a.id = $1 AND a.state = 'published' AND v.marked_blind)
$$;

-- Whether nobody but its student is told whose work it is: until it has its verdict, and with it the mark.
CREATE FUNCTION unnamed_work(of_work uuid, reader uuid) RETURNS boolean LANGUAGE sql STABLE AS $$
    SELECT EXISTS (SELECT FROM assignment_work w
        WHERE w.id = $1 AND w.person_id <> $2 AND marked_blind(w.assignment_id)
          AND NOT EXISTS (SELECT FROM handed_work h WHERE h.work_id = w.id AND h.state IN ('accepted', 'rejected')))
$$;
CREATE FUNCTION unnamed_batch(of_batch uuid, reader uuid) RETURNS boolean LANGUAGE sql STABLE AS $$
    SELECT EXISTS (SELECT FROM work_batch c WHERE c.batch_id = $1 AND unnamed_work(c.work_id, $2))
$$;

CREATE FUNCTION candidate_of_work(of_work uuid) RETURNS text LANGUAGE sql STABLE AS $$
    SELECT 'Candidate ' || k.label FROM candidate k WHERE k.work_id = $1
$$;
CREATE FUNCTION candidate_of_batch(of_batch uuid) RETURNS text LANGUAGE sql STABLE AS $$
    SELECT candidate_of_work(c.work_id) FROM work_batch c WHERE c.batch_id = $1
$$;

-- Work is closed to whoever must not know whose it is, whichever mark they give: the second, as before, or the first.
CREATE OR REPLACE FUNCTION blind_work(of_work uuid, reader uuid) RETURNS boolean LANGUAGE sql STABLE AS $$
    SELECT EXISTS (
        SELECT FROM assignment_work w JOIN moderation m ON m.assignment_id = w.assignment_id
        WHERE w.id = $1 AND m.second_id = $2 AND m.second_at IS NULL
          AND EXISTS (SELECT FROM handed_work h WHERE h.work_id = w.id AND h.state IN ('accepted', 'rejected'))
          AND NOT EXISTS (SELECT FROM handed_work h JOIN work_mark k ON k.handed_id = h.id
              WHERE h.work_id = w.id AND k.marker_id = $2))
        OR unnamed_work($1, $2)
$$;

GRANT SELECT, INSERT ON candidate TO stillroom_service;
