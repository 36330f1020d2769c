//! Getting in, and being kept out: rights that end while somebody enters, guessing, and what is noted of it.

mod class;
mod devices;
mod names;
mod purged;
mod races;
mod watched;

use diesel_async::{AsyncPgConnection, RunQueryDsl};

#[derive(diesel::QueryableByName)]
struct Count {
    #[diesel(sql_type = diesel::sql_types::BigInt)]
    count: i64,
}

async fn count(conn: &mut AsyncPgConnection, sql: &str) -> i64 {
    diesel::sql_query(sql).get_result::<Count>(conn).await.unwrap().count
}
