//! What the tables hold, looked at by the database's owner.

use std::collections::BTreeMap;

use diesel_async::RunQueryDsl;
use stillroom_tests::database;

#[derive(diesel::QueryableByName)]
struct Line {
    #[diesel(sql_type = diesel::sql_types::Text)]
    text: String,
}

/// Every row of every table, each as Postgres writes it, all columns of it.
pub(crate) async fn every_row(url: &str) -> BTreeMap<String, Vec<String>> {
    let names = lines(
        url,
        "SELECT c.relname::text AS text FROM pg_class c WHERE c.relkind IN ('r', 'p', 'm', 'v')
         AND c.relnamespace = 'public'::regnamespace ORDER BY 1",
    )
    .await;
    let mut all = BTreeMap::new();
    for name in names {
        let rows = lines(url, &format!("SELECT t::text AS text FROM \"{name}\" t ORDER BY 1")).await;
        all.insert(name, rows);
    }
    assert!(all.len() > 25, "{all:?}");
    all
}

/// Every row of some columns of a table, as Postgres writes it.
pub(crate) async fn every_row_of(url: &str, table: &str, columns: &[&str]) -> Vec<String> {
    lines(url, &format!("SELECT row({})::text AS text FROM {table} ORDER BY 1", columns.join(", "))).await
}

/// Whether the service's role may read any column of a table.
pub(crate) async fn may_read(url: &str, table: &str) -> bool {
    let sql =
        format!("SELECT has_any_column_privilege('stillroom_service', '{table}', 'SELECT')::text AS text");
    lines(url, &sql).await != ["false"]
}

/// The ids in one column of a table.
pub(crate) async fn ids(url: &str, table: &str, column: &str) -> Vec<String> {
    lines(url, &format!("SELECT {column}::text AS text FROM {table} ORDER BY 1")).await
}

async fn lines(url: &str, sql: &str) -> Vec<String> {
    let mut conn = database::owner(url).await;
    let rows: Vec<Line> = diesel::sql_query(sql).load(&mut conn).await.unwrap();
    rows.into_iter().map(|line| line.text).collect()
}
