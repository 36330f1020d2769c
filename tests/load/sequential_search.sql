-- What a search for a misspelt name costs without the index: every name is compared. Run by pgbench; its time is what
-- the service's own search is held against.
BEGIN;
SET LOCAL enable_indexscan = off;
SET LOCAL enable_bitmapscan = off;
SET LOCAL pg_trgm.word_similarity_threshold = 0.45;
SELECT m.id, m.name, m.kind, m.current_version
FROM (SELECT material_id, max(word_similarity('calandula oficinalis', term)) AS part,
        max(similarity('calandula oficinalis', term)) AS whole
      FROM material_term WHERE 'calandula oficinalis' <% term GROUP BY material_id) found
JOIN material m ON m.id = found.material_id
ORDER BY found.part DESC, found.whole DESC, m.name COLLATE "C", m.id LIMIT 50;
COMMIT;
