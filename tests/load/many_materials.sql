-- A materia medica of 100,000 materials with three names each, made of syllables as botanical names are. They can be
-- searched and nothing more: they stand in no formula. Run by the owner.
\set at '''2026-01-05 08:00:00+00'''
BEGIN;
SELECT setseed(0.5);
CREATE TEMPORARY TABLE planned AS
WITH syllables AS (
    SELECT string_to_array('ca len du la ros ma ri nus thy mum sal vi a la van dr o ci mi fo li um ar ni ca hy pe ri cum '
        'sym phy tum al the a plan ta go men tha pul eg ium mel is sa ta na ce tum ver be na of fi na lis vul ga ris '
        'an gus ti fo lia ma cro phyl la ni gra al ba lu te a re pens syl ves tris', ' ') AS all
), words AS (
    SELECT number, part, (SELECT string_agg(s.all[1 + floor(random() * cardinality(s.all))::int], '')
        FROM syllables s, generate_series(1, 3 + (number + part) % 2)) AS word
    FROM generate_series(1, 100000) AS number, generate_series(1, 4) AS part
)
SELECT gen_random_uuid() AS id, number, string_agg(word, ' ' ORDER BY part) FILTER (WHERE part <= 2) AS botanical,
    string_agg(word, ' ' ORDER BY part) FILTER (WHERE part > 2) AS common
FROM words GROUP BY number;

INSERT INTO material (id, name, kind, current_version)
SELECT id, common || ' ' || number, 'herb', 1 FROM planned;
INSERT INTO material_version (material_id, version, facts, digest, created_at)
SELECT id, 1, '{}', sha256(id::text::bytea), :at FROM planned;
INSERT INTO material_term (material_id, term)
SELECT id, common || ' ' || number FROM planned
UNION SELECT id, botanical FROM planned
UNION SELECT id, botanical || ' flower' FROM planned;
COMMIT;
VACUUM (ANALYZE) material, material_version, material_term;
