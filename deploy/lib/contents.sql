-- What is in the database: a line for each table, with its rows counted and a digest over them that does not
-- depend on their order. `backup` writes these lines from the dump's own snapshot; `restore` compares them.
\set QUIET on
\pset format unaligned
\pset tuples_only on
\pset fieldsep '\t'
SET TIME ZONE 'UTC';
SET DateStyle = 'ISO';
SET IntervalStyle = 'iso_8601';
SET extra_float_digits = 1;
SELECT format(
    'SELECT %L, count(*), coalesce(sum((''x'' || substr(md5(content::text), 1, 16))::bit(64)::bigint::numeric), 0) FROM %I.%I AS content',
    n.nspname || '.' || c.relname, n.nspname, c.relname)
FROM pg_class c
JOIN pg_namespace n ON n.oid = c.relnamespace
WHERE c.relkind = 'r' AND n.nspname <> 'information_schema' AND n.nspname NOT LIKE 'pg\_%'
ORDER BY n.nspname COLLATE "C", c.relname COLLATE "C"
\gexec
