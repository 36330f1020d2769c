//! Diesel's view of the database is printed from the database.

use diesel::sql_types::{Bool, Nullable, Text};
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use stillroom_tests::database;

use super::{holds_or_is_rewritten, root};

/// The tables behind the gate: only the crate `release` may name them.
pub(super) fn gated() -> Vec<&'static str> {
    release::columns::GATED.iter().map(|table| table.name).collect()
}

const HEADER: &str = "// Printed from the database by the test `schema_is_the_databases`; run it with UPDATE_SCHEMA=1 \
                      after a migration.\n\n";

#[derive(diesel::QueryableByName)]
struct Printed {
    #[diesel(sql_type = Nullable<Text>)]
    printed: Option<String>,
}

async fn printed(conn: &mut AsyncPgConnection, gated: bool) -> String {
    let sql = std::fs::read_to_string(root().join("schema/print.sql")).unwrap();
    let row: Printed = diesel::sql_query(sql)
        .bind::<Text, _>(self::gated().join(","))
        .bind::<Bool, _>(gated)
        .get_result(conn)
        .await
        .unwrap();
    format!("{HEADER}{}", row.printed.unwrap())
}

#[tokio::test(flavor = "multi_thread")]
async fn schema_is_the_databases() {
    let url = database::copy().await;
    let mut conn = database::owner(&url).await;
    for (file, gated) in [("schema/src/schema.rs", false), ("services/release/src/gated.rs", true)] {
        let now = printed(&mut conn, gated).await;
        assert!(!now.contains("no_diesel_type_for_"), "print.sql lacks a type: {now}");
        holds_or_is_rewritten(file, &now, "UPDATE_SCHEMA");
    }
    drop(conn);
    database::remove(&url).await;
}
