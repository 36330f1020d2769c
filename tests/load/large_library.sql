-- A library of 100,000 approved formulas of which everybody in the clinic is a member. The formulas can be listed and
-- nothing more: they have no content. Run by the owner, who is past the rules that the service's own role is held to.
\set at '''2026-01-05 08:00:00+00'''
BEGIN;
INSERT INTO library (id, name, description, version, created_by, created_at)
SELECT gen_random_uuid(), 'The large library', 'A hundred thousand formulas.', 1, id, :at
FROM person WHERE role = 'instructor' ORDER BY sign_in_name LIMIT 1;

INSERT INTO library_member (library_id, holder_id, added_by, added_at)
SELECT library.id, person.id, library.created_by, :at
FROM library, person WHERE library.name = 'The large library';

-- In one statement, for a formula and its approved revision refer to each other.
WITH planned AS MATERIALIZED (
    SELECT gen_random_uuid() AS formula_id, gen_random_uuid() AS revision_id,
        'Ointment ' || to_char(number, 'FM000000') AS title, author.id AS author_id, other.id AS other_id
    FROM generate_series(1, 100000) AS number,
        (SELECT id FROM person WHERE role = 'instructor' ORDER BY sign_in_name LIMIT 1) AS author,
        (SELECT id FROM person WHERE role = 'instructor' ORDER BY sign_in_name DESC LIMIT 1) AS other
), formulas AS (
    INSERT INTO formula (id, library_id, title, preparation, approved_revision_id, last_number, created_by, created_at)
    SELECT formula_id, library.id, title, 'ointment', revision_id, 1, author_id, :at
    FROM planned, library WHERE library.name = 'The large library'
)
INSERT INTO revision (id, formula_id, number, state, title, preparation, route, regime, version, author_id, created_at,
    proposed_at, digest, decided_by, decided_at)
SELECT revision_id, formula_id, 1, 'approved', title, 'ointment', 'on intact skin, leave-on', 'cosmetic', 3,
    author_id, :at, :at, sha256(revision_id::text::bytea), other_id, :at
FROM planned;
COMMIT;
VACUUM (ANALYZE) library, library_member, formula, revision;
