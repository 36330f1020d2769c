-- Work that waits to be marked: a thousand submissions of one cohort and a million of another, of a thousand students each.
-- Every instructor marks both. The records hold nothing: they can be listed and no more. Run by the owner, after the large
-- library.
\set at '''2026-01-05 08:00:00+00'''
BEGIN;
CREATE TEMPORARY TABLE teacher AS SELECT id FROM person WHERE role = 'instructor' ORDER BY sign_in_name LIMIT 1;
CREATE TEMPORARY TABLE student AS SELECT gen_random_uuid() AS id, number FROM generate_series(0, 999) AS number;
INSERT INTO principal (id, kind) SELECT id, 'person' FROM student;
INSERT INTO person (id, sign_in_name, name, role, state, version, created_at)
SELECT id, 'student.of.many.' || number, 'Student ' || number, 'student', 'active', 1, :at FROM student;
INSERT INTO cohort (id, name, time_zone, starts_on, ends_on, version, created_by, created_at)
SELECT gen_random_uuid(), name, 'UTC', '2026-01-05', '2026-12-18', 1, teacher.id, :at
FROM teacher, (VALUES ('A thousand submissions'), ('A million submissions')) AS named (name);
INSERT INTO cohort_member (cohort_id, person_id, role, added_by, added_at)
SELECT c.id, p.id, 'instructor', teacher.id, :at FROM cohort c, person p, teacher
WHERE c.name LIKE '% submissions' AND p.role = 'instructor';
CREATE TEMPORARY TABLE many_planned AS
WITH numbers AS (
    SELECT 'A thousand submissions' AS name, number FROM generate_series(1, 1000) AS number
    UNION ALL SELECT 'A million submissions', number FROM generate_series(1, 1000000) AS number
)
SELECT c.id AS cohort_id, n.number, (n.number - 1) / 1000 AS assignment, s.id AS student_id,
    gen_random_uuid() AS work_id, gen_random_uuid() AS batch_id, gen_random_uuid() AS handed_id
FROM numbers n JOIN cohort c ON c.name = n.name JOIN student s ON s.number = (n.number - 1) % 1000;
CREATE TEMPORARY TABLE of_cohort AS
SELECT cohort_id, assignment, gen_random_uuid() AS id FROM many_planned GROUP BY cohort_id, assignment;
INSERT INTO assignment (id, cohort_id, state, current_version, version, secret, created_by, created_at, published_at)
SELECT o.id, o.cohort_id, 'published', 1, 2, sha256(o.id::text::bytea), teacher.id, :at, :at FROM of_cohort o, teacher;
INSERT INTO assignment_version (assignment_id, number, title, instructions, quantity, opens_at, due_at, attempts,
    returns_allowed, rubric, created_by, created_at)
SELECT o.id, 1, 'Assignment ' || o.assignment, '', '100 g', :at, :at::timestamptz + interval '30 days', 1, 1,
    '{"total_points": 0, "practice": true, "criteria": []}', teacher.id, :at
FROM of_cohort o, teacher;
INSERT INTO assignment_work (id, assignment_id, person_id, begun_at)
SELECT p.work_id, o.id, p.student_id, :at FROM many_planned p JOIN of_cohort o USING (cohort_id, assignment);
INSERT INTO batch (id, number, revision_id, revision_digest, caution_digest, policy_version, maker_id, state, disposition,
    version, opened_at, last_entry, last_submission)
SELECT p.batch_id, 'many-' || p.batch_id, r.id, r.digest, r.digest, (SELECT max(version) FROM policy), p.student_id,
    'submitted', 'practice_only', 1, :at, 0, 1
FROM many_planned p, (SELECT id, digest FROM revision WHERE title = 'Ointment 000001') r;
INSERT INTO submission (batch_id, number, findings, last_entry, at) SELECT batch_id, 1, '[]', 0, :at FROM many_planned;
INSERT INTO work_batch (batch_id, work_id) SELECT batch_id, work_id FROM many_planned;
-- A tenth is late, so that both kinds of lines stand in the queue. The queue's lines are written in one statement in the
-- place of a trigger for each row.
ALTER TABLE handed_work DISABLE TRIGGER work_waits;
INSERT INTO handed_work (id, work_id, number, batch_id, submission_number, last_entry, assignment_id, version_number,
    received_at, late, salt, digest, state)
SELECT p.handed_id, p.work_id, 1, p.batch_id, 1, 0, o.id, 1, :at::timestamptz + p.number * interval '1 second',
    p.number % 10 = 0, '\x00000000000000000000000000000000', sha256(p.handed_id::text::bytea), 'submitted'
FROM many_planned p JOIN of_cohort o USING (cohort_id, assignment);
ALTER TABLE handed_work ENABLE TRIGGER work_waits;
INSERT INTO work_waiting (handed_id, cohort_id, student_id, received_at, due_at, late, came_back, findings, noted, clean)
SELECT h.id, a.cohort_id, w.person_id, h.received_at, v.due_at, h.late, false, '{}', false, NOT h.late
FROM handed_work h JOIN assignment_work w ON w.id = h.work_id JOIN assignment a ON a.id = h.assignment_id
JOIN assignment_version v ON v.assignment_id = a.id AND v.number = h.version_number
JOIN cohort c ON c.id = a.cohort_id AND c.name LIKE '% submissions';
COMMIT;
VACUUM (ANALYZE) person, cohort, cohort_member, assignment, assignment_version, assignment_work, batch, submission, work_batch, handed_work, work_waiting;
