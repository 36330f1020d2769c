//! What the service's own database role may do: use the tables, and nothing else.

use std::collections::BTreeMap;

use diesel::result::{DatabaseErrorKind, Error};
use diesel_async::{AsyncPgConnection, SimpleAsyncConnection};
use stillroom_tests::database;

use super::texts;

const SELECT_INSERT: &str = "INSERT SELECT";
const AND_UPDATE: &str = "INSERT SELECT UPDATE";
const AND_DELETE: &str = "DELETE INSERT SELECT";
const ALL: &str = "DELETE INSERT SELECT UPDATE";

/// Every table with what the service may do to it. What was written and must stay legible it may only read and add to.
const RIGHTS: [(&str, &str); 46] = [
    ("acknowledgement", SELECT_INSERT),
    ("amendment", AND_UPDATE),
    ("amendment_effect", SELECT_INSERT),
    ("amendment_material", SELECT_INSERT),
    ("api_client", AND_UPDATE),
    ("attempt", ALL),
    ("batch", AND_UPDATE),
    ("batch_counter", AND_UPDATE),
    ("batch_entry", SELECT_INSERT),
    ("batch_recipe", SELECT_INSERT),
    ("caution", SELECT_INSERT),
    ("caution_set", SELECT_INSERT),
    ("countersignature", SELECT_INSERT),
    ("credential", AND_UPDATE),
    ("event", SELECT_INSERT),
    ("event_head", AND_UPDATE),
    ("event_order", SELECT_INSERT),
    ("event_unnumbered", AND_DELETE),
    ("formula", AND_UPDATE),
    ("gate", AND_UPDATE),
    ("idempotency", SELECT_INSERT),
    ("library", AND_UPDATE),
    ("library_member", AND_DELETE),
    ("material", AND_UPDATE),
    // A merged material's names lead to the other, and one that has become ambiguous leads nowhere.
    ("material_synonym", ALL),
    ("material_term", AND_DELETE),
    ("material_version", SELECT_INSERT),
    ("one_time_code", AND_UPDATE),
    ("person", AND_UPDATE),
    ("policy", SELECT_INSERT),
    ("principal", AND_UPDATE),
    ("recipe_pull", SELECT_INSERT),
    ("reference_rule", ALL),
    ("refresh_token", AND_UPDATE),
    ("release_grant", ALL),
    ("review", SELECT_INSERT),
    ("review_comment", SELECT_INSERT),
    ("revision", AND_UPDATE),
    ("revision_comment", SELECT_INSERT),
    ("revision_content", AND_UPDATE),
    ("revision_ingredient", SELECT_INSERT),
    ("revision_material", SELECT_INSERT),
    ("revision_nested", SELECT_INSERT),
    ("row_digest", AND_UPDATE),
    ("session", AND_UPDATE),
    ("withholding", AND_DELETE),
];

/// The two tables that have their own row below, since the array above would not say why.
const MORE: [(&str, &str); 2] = [
    ("submission", SELECT_INSERT),
    // Read, to see whether binary and database fit each other.
    ("__diesel_schema_migrations", "SELECT"),
];

#[tokio::test(flavor = "multi_thread")]
async fn the_services_role_has_these_rights_and_no_others() {
    let url = database::copy().await;
    let mut owner = database::owner(&url).await;
    let found: BTreeMap<String, String> = texts(
        &mut owner,
        "SELECT c.relname || '=' || coalesce(string_agg(a.privilege_type, ' ' ORDER BY a.privilege_type), '') AS value
         FROM pg_class c LEFT JOIN LATERAL aclexplode(c.relacl) a
             ON a.grantee IN (0, 'stillroom_service'::regrole)
         WHERE c.relnamespace = 'public'::regnamespace AND c.relkind IN ('r', 'p', 'v', 'm', 'S')
         GROUP BY c.relname",
    )
    .await
    .into_iter()
    .map(|row| row.split_once('=').map(|(table, rights)| (table.to_owned(), rights.to_owned())).unwrap())
    .collect();
    let expected: BTreeMap<String, String> = RIGHTS
        .iter()
        .chain(&MORE)
        .map(|(table, rights)| ((*table).to_owned(), (*rights).to_owned()))
        .collect();
    assert_eq!(found, expected, "every table has its row here, and the migrations grant just that");

    let owned = texts(
        &mut owner,
        "SELECT 'relation ' || relname AS value FROM pg_class WHERE relowner = 'stillroom_service'::regrole
         UNION ALL SELECT 'function ' || proname FROM pg_proc WHERE proowner = 'stillroom_service'::regrole
         UNION ALL SELECT 'schema ' || nspname FROM pg_namespace WHERE nspowner = 'stillroom_service'::regrole
         UNION ALL SELECT 'database ' || datname FROM pg_database WHERE datdba = 'stillroom_service'::regrole
         UNION ALL SELECT 'type ' || typname FROM pg_type WHERE typowner = 'stillroom_service'::regrole
         UNION ALL SELECT 'column ' || attrelid::regclass || '.' || attname FROM pg_attribute a,
             LATERAL aclexplode(a.attacl) g WHERE g.grantee = 'stillroom_service'::regrole
         UNION ALL SELECT 'attribute ' || rolname FROM pg_roles WHERE rolname = 'stillroom_service'
             AND (rolsuper OR rolcreaterole OR rolcreatedb OR rolreplication OR rolbypassrls OR rolcanlogin)
         UNION ALL SELECT 'member of ' || roleid::regrole FROM pg_auth_members
             WHERE member = 'stillroom_service'::regrole
         UNION ALL SELECT 'may create in public'
             WHERE has_schema_privilege('stillroom_service', 'public', 'CREATE')
         UNION ALL SELECT 'may create schemas'
             WHERE has_database_privilege('stillroom_service', current_database(), 'CREATE')",
    )
    .await;
    assert!(owned.is_empty(), "the service's role owns or may: {owned:?}");
    drop(owner);
    database::remove(&url).await;
}

/// Fails unless Postgres itself refuses the statement for want of rights (SQLSTATE 42501).
async fn refused(conn: &mut AsyncPgConnection, sql: &str) {
    match conn.batch_execute(sql).await.expect_err(sql) {
        Error::DatabaseError(DatabaseErrorKind::Unknown, info) => {
            let said = info.message();
            assert!(
                said.starts_with("permission denied") || said.starts_with("must be owner"),
                "{sql}: {said}"
            );
        }
        other => panic!("{sql}: {other}"),
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn acting_as_the_service_nothing_written_can_be_changed_and_nothing_made_or_dropped() {
    let url = database::copy().await;
    let mut conn = database::owner(&url).await;
    let first_columns: BTreeMap<String, String> = texts(
        &mut conn,
        "SELECT table_name || '=' || column_name AS value FROM information_schema.columns
         WHERE table_schema = 'public' AND ordinal_position = 1",
    )
    .await
    .into_iter()
    .map(|row| row.split_once('=').map(|(table, column)| (table.to_owned(), column.to_owned())).unwrap())
    .collect();
    // As the service does on every connection of its own.
    conn.batch_execute("SET ROLE stillroom_service").await.unwrap();
    for (table, rights) in RIGHTS.iter().chain(&MORE) {
        let column = &first_columns[*table];
        conn.batch_execute(&format!("SELECT {column} FROM {table} LIMIT 1")).await.unwrap();
        if !rights.contains("UPDATE") {
            refused(&mut conn, &format!("UPDATE {table} SET {column} = {column}")).await;
        }
        if !rights.contains("DELETE") {
            refused(&mut conn, &format!("DELETE FROM {table}")).await;
        }
        for sql in [
            format!("TRUNCATE {table}"),
            format!("DROP TABLE {table}"),
            format!("ALTER TABLE {table} ADD COLUMN more text"),
            format!("ALTER TABLE {table} DISABLE TRIGGER ALL"),
            format!("CREATE INDEX ON {table} ({column})"),
            format!("CREATE TRIGGER t BEFORE INSERT ON {table} EXECUTE FUNCTION content_stays_frozen()"),
        ] {
            refused(&mut conn, &sql).await;
        }
    }
    for sql in [
        "CREATE TABLE more (id uuid)",
        "CREATE SCHEMA more",
        "CREATE FUNCTION more() RETURNS integer LANGUAGE sql AS 'SELECT 1'",
        "DROP FUNCTION content_stays_frozen()",
        "CREATE OR REPLACE FUNCTION content_stays_frozen() RETURNS trigger LANGUAGE plpgsql AS 'BEGIN RETURN NEW; END'",
        "CREATE ROLE more",
        "CREATE DATABASE more",
    ] {
        refused(&mut conn, sql).await;
    }
    drop(conn);
    database::remove(&url).await;
}
