//! Databases for tests: one migrated template, a copy for every test.

use clinic::PoolSettings;
use diesel_async::{AsyncConnection, AsyncPgConnection, SimpleAsyncConnection};
use std::collections::BTreeMap;
use std::path::PathBuf;
use std::sync::atomic::{AtomicU32, Ordering};
use std::time::Duration;
use tokio::sync::OnceCell;

static TEMPLATE: OnceCell<String> = OnceCell::const_new();
static COUNT: AtomicU32 = AtomicU32::new(0);

/// The server's address, up to the name of the database.
fn server() -> String {
    let url = std::env::var("TEST_DATABASE_URL")
        .expect("TEST_DATABASE_URL names a login that may make databases; ./tests/run sets it");
    let (server, _) = url.rsplit_once('/').expect("a database URL ends in the name of a database");
    server.to_owned()
}

async fn run(sql: &str) -> diesel::QueryResult<()> {
    let url = std::env::var("TEST_DATABASE_URL").unwrap();
    let mut conn = AsyncPgConnection::establish(&url).await.expect("the test server answers");
    conn.batch_execute(sql).await
}

async fn command(sql: &str) {
    run(sql).await.unwrap_or_else(|error| panic!("{sql}: {error}"));
}

/// The same database under the login that the service runs under.
#[must_use]
pub fn of_service(url: &str) -> String {
    elsewhere(url, "TEST_SERVICE_DATABASE_URL")
}

/// The same database under the service's login, by way of the pooler.
#[must_use]
pub fn behind_the_pooler(url: &str) -> String {
    elsewhere(url, "TEST_POOLER_URL")
}

/// The same by way of a pooler that loses prepared statements.
#[must_use]
pub fn behind_the_forgetful_pooler(url: &str) -> String {
    elsewhere(url, "TEST_FORGETFUL_POOLER_URL")
}

/// The pooler's own console, where its administrator gives it orders.
#[must_use]
pub fn console_of_the_pooler() -> String {
    elsewhere("/pgbouncer", "TEST_POOLER_URL").replace("stillroom_app@", "pooler_admin@")
}

fn elsewhere(url: &str, variable: &str) -> String {
    let (_, database) = url.rsplit_once('/').expect("a database URL ends in the name of a database");
    let there = std::env::var(variable)
        .unwrap_or_else(|_| panic!("{variable} is not set; ./tests/run -- COMMAND sets it"));
    let (server, _) = there.rsplit_once('/').expect("a database URL ends in the name of a database");
    format!("{server}/{database}")
}

/// How tests open the pool of a database: as the service does.
#[must_use]
pub fn pool(url: &str) -> PoolSettings {
    PoolSettings { url: of_service(url), size: 2, wait: Duration::from_secs(20) }
}

/// An empty database of its own.
pub async fn empty() -> String {
    let name = format!("stillroom_test_{}_{}", std::process::id(), COUNT.fetch_add(1, Ordering::SeqCst));
    command(&format!("CREATE DATABASE {name}")).await;
    format!("{}/{name}", server())
}

/// A migrated database of its own.
pub async fn copy() -> String {
    let template = TEMPLATE
        .get_or_init(|| async {
            let url = empty().await;
            server::migrate::migrate(&pool(&url), &url).await.expect("the migrations run");
            url.rsplit_once('/').unwrap().1.to_owned()
        })
        .await;
    let name = format!("stillroom_test_{}_{}", std::process::id(), COUNT.fetch_add(1, Ordering::SeqCst));
    command(&format!("CREATE DATABASE {name} TEMPLATE {template}")).await;
    format!("{}/{name}", server())
}

/// The folder in which the service on a database keeps photographs.
#[must_use]
pub fn photographs(database: &str) -> PathBuf {
    let name = database.rsplit('/').next().unwrap_or_default();
    std::env::temp_dir().join(format!("{name}-photographs"))
}

/// Removes a database that a test has done with, and the photographs beside it.
pub async fn remove(url: &str) {
    // Most tests keep no photograph, and then there is no folder.
    let _ = std::fs::remove_dir_all(photographs(url));
    let name = url.rsplit_once('/').unwrap().1;
    // Not WITH (FORCE): that is refused where Postgres happens to be vacuuming there, while a plain DROP ends the vacuum
    // itself and waits for it. So only our own connections are ended here, and again if one was just being opened.
    let mut refused = String::new();
    for _ in 0..3 {
        command(&format!(
            "SELECT pg_terminate_backend(pid, 5000) FROM pg_stat_activity
             WHERE datname = '{name}' AND backend_type = 'client backend'"
        ))
        .await;
        match run(&format!("DROP DATABASE IF EXISTS {name}")).await {
            Ok(()) => return,
            Err(error) => refused = error.to_string(),
        }
    }
    panic!("{name} cannot be removed: {refused}");
}

/// A connection under the database's owner, for looking at what the service wrote and for breaking things.
pub async fn owner(url: &str) -> AsyncPgConnection {
    AsyncPgConnection::establish(url).await.expect("the test database answers")
}

#[derive(diesel::QueryableByName)]
struct Table {
    #[diesel(sql_type = diesel::sql_types::Text)]
    name: String,
    #[diesel(sql_type = diesel::sql_types::Text)]
    holds: String,
}

/// Tables that change while nobody writes: what was refused is noted in time, and events get their numbers in the
/// background.
pub const IN_THE_BACKGROUND: [&str; 3] = ["security_event", "event_order", "event_unnumbered"];

/// What every table holds: how many rows, and a digest over all of them. Equal before and after means that nothing
/// was written, changed or removed. What changes [`IN_THE_BACKGROUND`] is left out.
pub async fn contents(url: &str) -> BTreeMap<String, String> {
    use diesel_async::RunQueryDsl;
    let mut conn = owner(url).await;
    let tables: Vec<Table> = diesel::sql_query(format!(
        "SELECT relname::text AS name, '' AS holds FROM pg_class
         WHERE relnamespace = 'public'::regnamespace AND relkind IN ('r', 'p')
           AND relname NOT IN ('{}')",
        IN_THE_BACKGROUND.join("', '")
    ))
    .load(&mut conn)
    .await
    .unwrap();
    let each: Vec<String> = tables
        .iter()
        .map(|Table { name, .. }| {
            format!(
                "SELECT '{name}' AS name, count(*) || ' ' ||
                    coalesce(md5(string_agg(t::text, chr(10) ORDER BY t::text)), '') AS holds FROM {name} t"
            )
        })
        .collect();
    let rows: Vec<Table> = diesel::sql_query(each.join(" UNION ALL ")).load(&mut conn).await.unwrap();
    rows.into_iter().map(|row| (row.name, row.holds)).collect()
}
