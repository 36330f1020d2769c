-- Prints Diesel's view of the database. $1: the tables to print, or to leave out, separated by commas;
-- $2: true to print just those, false to print all others.
SELECT string_agg(block, E'\n' ORDER BY table_name) AS printed
FROM (
    SELECT c.table_name,
        E'diesel::table! {\n    ' || c.table_name || ' (' || (
            SELECT string_agg(k.column_name, ', ' ORDER BY k.ordinal_position)
            FROM information_schema.table_constraints t
            JOIN information_schema.key_column_usage k
                ON k.constraint_name = t.constraint_name AND k.table_schema = t.table_schema
            WHERE t.table_schema = 'public' AND t.table_name = c.table_name AND t.constraint_type = 'PRIMARY KEY'
        ) || E') {\n' || string_agg(
            '        ' || CASE WHEN c.column_name IN ('type', 'do') THEN '#[sql_name = "' || c.column_name || E'"]\n        ' || c.column_name || '_' ELSE c.column_name END
            || ' -> ' || CASE WHEN c.is_nullable = 'YES' THEN 'Nullable<' ELSE '' END
            || CASE c.udt_name
                WHEN 'uuid' THEN 'Uuid' WHEN 'text' THEN 'Text' WHEN 'bytea' THEN 'Bytea' WHEN 'bool' THEN 'Bool'
                WHEN 'int2' THEN 'Int2' WHEN 'int4' THEN 'Int4' WHEN 'int8' THEN 'Int8' WHEN 'numeric' THEN 'Numeric'
                WHEN 'timestamptz' THEN 'Timestamptz' WHEN 'date' THEN 'Date' WHEN 'jsonb' THEN 'Jsonb'
                WHEN '_text' THEN 'Array<Text>' WHEN '_int2' THEN 'Array<Int2>' WHEN '_numeric' THEN 'Array<Numeric>'
                ELSE 'no_diesel_type_for_' || c.udt_name END
            || CASE WHEN c.is_nullable = 'YES' THEN '>' ELSE '' END || ',', E'\n' ORDER BY c.ordinal_position
        ) || E'\n    }\n}\n' AS block
    FROM information_schema.columns c
    JOIN information_schema.tables t USING (table_schema, table_name)
    WHERE c.table_schema = 'public' AND t.table_type = 'BASE TABLE' AND c.table_name NOT LIKE '\_\_%'
        AND (c.table_name = ANY (string_to_array($1, ','))) = $2
    GROUP BY c.table_name
) AS blocks
