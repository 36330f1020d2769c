CREATE OR REPLACE FUNCTION blind_work(of_work uuid, reader uuid) RETURNS boolean LANGUAGE sql STABLE AS $$
    SELECT EXISTS (
        SELECT FROM assignment_work w JOIN moderation m ON m.assignment_id = w.assignment_id
        WHERE w.id = $1 AND m.second_id = $2 AND m.second_at IS NULL
          AND EXISTS (SELECT FROM handed_work h WHERE h.work_id = w.id AND h.state IN ('accepted', 'rejected'))
          AND NOT EXISTS (SELECT FROM handed_work h JOIN work_mark k ON k.handed_id = h.id
              WHERE h.work_id = w.id AND k.marker_id = $2))
$$;
DROP FUNCTION candidate_of_batch(uuid);
DROP FUNCTION candidate_of_work(uuid);
DROP FUNCTION unnamed_batch(uuid, uuid);
DROP FUNCTION unnamed_work(uuid, uuid);
DROP FUNCTION marked_blind(uuid);
DROP TABLE candidate;
DROP TRIGGER blind_from_the_first ON assignment_version;
DROP FUNCTION blind_from_the_first();
ALTER TABLE assignment_version DROP COLUMN marked_blind;
