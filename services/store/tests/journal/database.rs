//! A database of its own for every test: migrated, with the shelf's tables, and removed afterwards.

use std::sync::atomic::{AtomicU32, Ordering};
use std::time::Duration;

use diesel::QueryableByName;
use diesel_async::{AsyncConnection, AsyncPgConnection, RunQueryDsl, SimpleAsyncConnection};
use store::{Clock, PoolSettings, Rng, Store};

static COUNT: AtomicU32 = AtomicU32::new(0);

/// A database of a test.
pub(crate) struct Database {
    name: String,
    url: String,
}

#[derive(QueryableByName)]
struct Text {
    #[diesel(sql_type = diesel::sql_types::Text)]
    value: String,
}

fn server() -> String {
    std::env::var("TEST_DATABASE_URL")
        .expect("TEST_DATABASE_URL names a login that may make databases; ./tests/run sets it")
}

async fn on_server(sql: &str) {
    let mut conn = AsyncPgConnection::establish(&server()).await.expect("the test server answers");
    conn.batch_execute(sql).await.unwrap_or_else(|error| panic!("{sql}: {error}"));
}

/// Every migration's way up, in order.
fn migrations() -> Vec<String> {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../../migrations");
    let mut folders: Vec<_> = std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    folders.sort();
    folders.iter().map(|folder| std::fs::read_to_string(folder.join("up.sql")).unwrap()).collect()
}

impl Database {
    /// A migrated database with the shelf's tables.
    pub(crate) async fn new() -> Self {
        let name =
            format!("stillroom_journal_{}_{}", std::process::id(), COUNT.fetch_add(1, Ordering::SeqCst));
        on_server(&format!("CREATE DATABASE {name}")).await;
        let url = format!("{}/{name}", server().rsplit_once('/').unwrap().0);
        let database = Self { name, url };
        let mut owner = database.owner().await;
        for migration in migrations() {
            owner.batch_execute(&migration).await.unwrap();
        }
        owner.batch_execute(super::shelf::TABLES).await.unwrap();
        database
    }

    /// A store on it; several stand for several processes.
    pub(crate) fn store(&self) -> Store {
        let login = std::env::var("TEST_SERVICE_DATABASE_URL")
            .expect("TEST_SERVICE_DATABASE_URL is the server under the service's login; ./tests/run sets it");
        let url = format!("{}/{}", login.rsplit_once('/').unwrap().0, self.name);
        let settings = PoolSettings { url, size: 4, wait: Duration::from_secs(20) };
        Store::open(&settings, Clock::System, Rng::system()).unwrap()
    }

    /// A connection under the owner of the database.
    pub(crate) async fn owner(&self) -> AsyncPgConnection {
        AsyncPgConnection::establish(&self.url).await.unwrap()
    }

    /// Removes it.
    pub(crate) async fn remove(self) {
        let Self { name, .. } = self;
        // Not WITH (FORCE): that is refused where Postgres happens to be vacuuming there, while a plain DROP ends the
        // vacuum itself and waits for it. So only our own connections are ended here.
        on_server(&format!(
            "SELECT pg_terminate_backend(pid, 5000) FROM pg_stat_activity
             WHERE datname = '{name}' AND backend_type = 'client backend'"
        ))
        .await;
        on_server(&format!("DROP DATABASE {name}")).await;
    }
}

/// Does something as the owner could.
pub(crate) async fn run(owner: &mut AsyncPgConnection, sql: &str) {
    owner.batch_execute(sql).await.unwrap_or_else(|error| panic!("{sql}: {error}"));
}

/// The values of one column of text.
pub(crate) async fn texts(owner: &mut AsyncPgConnection, sql: &str) -> Vec<String> {
    let rows: Vec<Text> =
        diesel::sql_query(sql).load(owner).await.unwrap_or_else(|error| panic!("{sql}: {error}"));
    rows.into_iter().map(|row| row.value).collect()
}
