//! What the service's own database role may do: use the tables, and nothing else.

use std::collections::BTreeMap;

use diesel::result::{DatabaseErrorKind, Error};
use diesel_async::{AsyncPgConnection, SimpleAsyncConnection};
use stillroom_tests::database;

use super::texts;

const SELECT_INSERT: &str = "INSERT SELECT";
const AND_DELETE: &str = "DELETE INSERT SELECT";

/// Every table with what the service may do to it. What was written and must stay legible it may only read and add to.
const RIGHTS: [(&str, &str); 129] = [
    ("acknowledgement", SELECT_INSERT),
    ("amendment", SELECT_INSERT),
    ("amendment_effect", SELECT_INSERT),
    ("amendment_material", SELECT_INSERT),
    ("api_client", SELECT_INSERT),
    ("appeal", SELECT_INSERT),
    ("appeal_decision", SELECT_INSERT),
    ("assignment", SELECT_INSERT),
    ("assignment_allowance", SELECT_INSERT),
    ("assignment_formula", SELECT_INSERT),
    ("assignment_question", SELECT_INSERT),
    ("assignment_version", SELECT_INSERT),
    ("assignment_work", SELECT_INSERT),
    ("attempt", AND_DELETE),
    ("bank_question", SELECT_INSERT),
    ("batch", SELECT_INSERT),
    ("batch_authorisation", SELECT_INSERT),
    ("batch_check", SELECT_INSERT),
    ("batch_counter", SELECT_INSERT),
    ("batch_decision", SELECT_INSERT),
    ("batch_decision_caution", SELECT_INSERT),
    ("batch_entry", SELECT_INSERT),
    ("batch_handover", SELECT_INSERT),
    ("batch_handover_answer", SELECT_INSERT),
    ("batch_hold_release", SELECT_INSERT),
    ("batch_label", SELECT_INSERT),
    ("batch_look_plan", SELECT_INSERT),
    ("batch_observation", SELECT_INSERT),
    ("batch_photograph", SELECT_INSERT),
    ("batch_pause", SELECT_INSERT),
    ("batch_recipe", SELECT_INSERT),
    ("batch_resumption", SELECT_INSERT),
    ("batch_shortening", SELECT_INSERT),
    ("candidate", SELECT_INSERT),
    ("caution", SELECT_INSERT),
    ("caution_reading", SELECT_INSERT),
    ("caution_set", SELECT_INSERT),
    ("cohort", SELECT_INSERT),
    ("cohort_code", SELECT_INSERT),
    ("cohort_member", AND_DELETE),
    ("countersignature", SELECT_INSERT),
    ("credential", SELECT_INSERT),
    ("event", SELECT_INSERT),
    ("event_head", SELECT_INSERT),
    ("event_order", SELECT_INSERT),
    ("event_unnumbered", AND_DELETE),
    ("formula", SELECT_INSERT),
    ("gate", SELECT_INSERT),
    ("idempotency", AND_DELETE),
    ("jar", SELECT_INSERT),
    ("jar_decanting", SELECT_INSERT),
    ("jar_filling", SELECT_INSERT),
    ("jar_handing", SELECT_INSERT),
    ("jar_here", "SELECT"),
    ("jar_return", SELECT_INSERT),
    ("maker_of_batch", "SELECT"),
    ("recall_jar_outcome", SELECT_INSERT),
    ("library", SELECT_INSERT),
    ("library_member", AND_DELETE),
    // Gone when its author removes it.
    ("kept_phrase", AND_DELETE),
    ("lot", SELECT_INSERT),
    // Written by the trigger of a movement alone.
    ("lot_balance", "SELECT"),
    ("lot_counter", SELECT_INSERT),
    ("lot_decision", SELECT_INSERT),
    // Kept by the triggers of what is reserved; the service has no right to it.
    ("lot_held", ""),
    ("lot_movement", SELECT_INSERT),
    // Gone when it was used, freed, or its day is over.
    ("lot_reservation", AND_DELETE),
    // How much, which is an amount of a recipe: the service adds it and cannot read it.
    ("lot_reserved", "INSERT"),
    ("material", SELECT_INSERT),
    // A merged material's names lead to the other, and one that has become ambiguous leads nowhere.
    ("material_synonym", AND_DELETE),
    ("material_term", AND_DELETE),
    ("material_version", SELECT_INSERT),
    ("moderation", SELECT_INSERT),
    ("moderation_settlement", SELECT_INSERT),
    ("moderation_share", SELECT_INSERT),
    ("older_evaluation", SELECT_INSERT),
    ("one_time_code", SELECT_INSERT),
    ("page_session", AND_DELETE),
    ("person", SELECT_INSERT),
    ("photograph_withdrawal", SELECT_INSERT),
    ("policy", SELECT_INSERT),
    ("principal", SELECT_INSERT),
    ("question", SELECT_INSERT),
    ("question_answer", SELECT_INSERT),
    ("reaction_case", SELECT_INSERT),
    ("reaction_counter", SELECT_INSERT),
    ("reaction_note", SELECT_INSERT),
    ("reaction_report", SELECT_INSERT),
    // Removed where they name somebody, and after ten years.
    ("reaction_words", AND_DELETE),
    ("recall", SELECT_INSERT),
    ("recall_item", SELECT_INSERT),
    ("recall_outcome", SELECT_INSERT),
    ("recipe_pull", SELECT_INSERT),
    ("reference_rule", AND_DELETE),
    ("reflection_draft", SELECT_INSERT),
    ("refresh_token", AND_DELETE),
    ("release_grant", AND_DELETE),
    ("retained_sample", SELECT_INSERT),
    ("review", SELECT_INSERT),
    ("review_comment", SELECT_INSERT),
    ("revision", SELECT_INSERT),
    ("revision_comment", SELECT_INSERT),
    ("revision_content", SELECT_INSERT),
    ("revision_ingredient", SELECT_INSERT),
    ("revision_material", SELECT_INSERT),
    ("revision_nested", SELECT_INSERT),
    ("revision_result", SELECT_INSERT),
    ("row_digest", SELECT_INSERT),
    // Removed through a function that keeps the last thirty days.
    ("security_event", SELECT_INSERT),
    ("second_mark", SELECT_INSERT),
    ("second_mark_criterion", SELECT_INSERT),
    ("session", SELECT_INSERT),
    ("stock_threshold", SELECT_INSERT),
    ("withholding", AND_DELETE),
    ("work_batch", SELECT_INSERT),
    // Written by the trigger of what is handed in.
    ("handed_finding", "SELECT"),
    ("handed_precision", SELECT_INSERT),
    ("competency", SELECT_INSERT),
    ("sign_off", SELECT_INSERT),
    ("sign_off_revocation", SELECT_INSERT),
    ("handed_trace", SELECT_INSERT),
    ("handed_work", SELECT_INSERT),
    ("declared_relation", SELECT_INSERT),
    ("work_claim", AND_DELETE),
    // Written by the triggers of what is handed in and settled.
    ("work_waiting", "SELECT"),
    ("work_limit", SELECT_INSERT),
    ("work_limit_words", AND_DELETE),
    ("work_mark", SELECT_INSERT),
    ("work_mark_criterion", SELECT_INSERT),
];

/// The columns that the service may change, by table. All others stay as they were written.
const CHANGES: [(&str, &str); 39] = [
    ("amendment", "decided_at decided_by own_decision state"),
    ("api_client", "last_used_at state version"),
    ("assignment", "current_version published_at state version withdrawn_because"),
    ("assignment_work", "done_at"),
    ("attempt", "failures last_at throttle_key"),
    ("batch", "adjusted_by disposition last_entry last_submission state version"),
    ("batch_counter", "last"),
    ("cohort", "ends_on name starts_on version"),
    ("cohort_code", "closed_at"),
    ("cohort_member", "role"),
    ("credential", "changed_at password_hash"),
    ("event_head", "hash number"),
    ("formula", "approved_revision_id last_number preparation title"),
    ("gate", "caution_digest set_number"),
    ("library", "description name version"),
    ("lot", "keeps_rule keeps_until last_decision opened_on state version"),
    ("lot_counter", "last"),
    ("material", "current_version kind merged_into name"),
    ("material_synonym", "material_id"),
    ("moderation", "second_id"),
    ("one_time_code", "used_at"),
    ("person", "name role state version"),
    ("question", "answered_at attempts state"),
    ("reaction_case", "causality conclusion ended_at ended_by joined_id state version"),
    ("reaction_counter", "last"),
    ("reaction_report", "case_id"),
    ("recall", "closed_at closed_because closed_by last_outcome state version"),
    ("reference_rule", "digest"),
    ("reflection_draft", "saved_at text version"),
    ("refresh_token", "used_at"),
    ("release_grant", "acknowledgement_id caution_digest digest pulled purpose set_number valid_until"),
    (
        "revision",
        "decided_at decided_by digest own_approval preparation proposed_at regime route state title version",
    ),
    ("revision_content", "content evaluation form salt"),
    ("row_digest", "digest event_id form salt"),
    ("session", "ended_at idle_expires_at"),
    ("stock_threshold", "grams least set_at set_by version"),
    ("handed_work", "state"),
    ("work_claim", "claimed_at ends_at marker_id"),
    ("work_limit", "withdrawn_at"),
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

    let changed: BTreeMap<String, String> = texts(
        &mut owner,
        "SELECT c.relname || '=' || string_agg(a.attname, ' ' ORDER BY a.attname COLLATE \"C\") AS value
         FROM pg_attribute a JOIN pg_class c ON c.oid = a.attrelid, LATERAL aclexplode(a.attacl) g
         WHERE c.relnamespace = 'public'::regnamespace AND g.grantee IN (0, 'stillroom_service'::regrole)
             AND g.privilege_type = 'UPDATE'
         GROUP BY c.relname",
    )
    .await
    .into_iter()
    .map(|row| row.split_once('=').map(|(table, columns)| (table.to_owned(), columns.to_owned())).unwrap())
    .collect();
    let expected: BTreeMap<String, String> =
        CHANGES.iter().map(|(table, columns)| ((*table).to_owned(), (*columns).to_owned())).collect();
    assert_eq!(changed, expected, "every column that may change has its place here");

    let owned = texts(
        &mut owner,
        "SELECT 'relation ' || relname AS value FROM pg_class WHERE relowner = 'stillroom_service'::regrole
         UNION ALL SELECT 'function ' || proname FROM pg_proc WHERE proowner = 'stillroom_service'::regrole
         UNION ALL SELECT 'schema ' || nspname FROM pg_namespace WHERE nspowner = 'stillroom_service'::regrole
         UNION ALL SELECT 'database ' || datname FROM pg_database WHERE datdba = 'stillroom_service'::regrole
         UNION ALL SELECT 'type ' || typname FROM pg_type WHERE typowner = 'stillroom_service'::regrole
         UNION ALL SELECT 'column ' || attrelid::regclass || '.' || attname FROM pg_attribute a,
             LATERAL aclexplode(a.attacl) g WHERE g.grantee = 'stillroom_service'::regrole
             AND g.privilege_type <> 'UPDATE'
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
    let mut columns = BTreeMap::<String, Vec<String>>::new();
    for row in texts(
        &mut conn,
        "SELECT table_name || '=' || column_name AS value FROM information_schema.columns
         WHERE table_schema = 'public' ORDER BY table_name, ordinal_position",
    )
    .await
    {
        let (table, column) = row.split_once('=').unwrap();
        columns.entry(table.to_owned()).or_default().push(column.to_owned());
    }
    // As the service does on every connection of its own.
    conn.batch_execute("SET ROLE stillroom_service").await.unwrap();
    for (table, rights) in RIGHTS.iter().chain(&MORE) {
        let column = &columns[*table][0];
        let read = format!("SELECT {column} FROM {table} LIMIT 1");
        match rights.contains("SELECT") {
            true => conn.batch_execute(&read).await.unwrap(),
            false => refused(&mut conn, &read).await,
        }
        let changes = CHANGES.iter().find(|(of, _)| of == table).map_or("", |(_, columns)| *columns);
        for column in &columns[*table] {
            let sql = format!("UPDATE {table} SET {column} = {column}");
            if changes.split(' ').any(|one| one == column) {
                conn.batch_execute(&sql).await.unwrap_or_else(|error| panic!("{sql}: {error}"));
            } else {
                refused(&mut conn, &sql).await;
            }
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
