//! Migrations: run under the database's owner, apart from the service, by one migrator at a time.

use clinic::{Clinic, Clock, PoolSettings, Rng, competencies, edition, journal, people, policy};
use diesel::QueryableByName;
use diesel::migration::{Migration, MigrationSource};
use diesel::pg::Pg;
use diesel::sql_types::{BigInt, Bool, Text};
use diesel_async::{
    AnsiTransactionManager, AsyncConnection, AsyncMigrationHarness, AsyncPgConnection, RunQueryDsl,
    SimpleAsyncConnection, TransactionManager,
};
use diesel_migrations::{EmbeddedMigrations, MigrationHarness, embed_migrations};

use crate::error::StartError;
use crate::{login, pooler};

/// Every migration, built in.
pub const MIGRATIONS: EmbeddedMigrations = embed_migrations!("../../migrations");

/// What migrating did.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Migrated {
    /// The migrations that were run.
    pub ran: Vec<String>,
    /// How many rows were found that are older than the journal's proof of rows; they are vouched for as found.
    pub vouched_for: u64,
    /// What was stored of frozen revisions from before results were stored.
    pub results: edition::OlderResults,
    /// How many materials were added or got a new version.
    pub materials: usize,
}

/// The advisory lock of those who migrate. Postgres keeps it apart for each database.
const MIGRATORS: i64 = 0x5354_494c_4c4d_4947;

/// Runs the migrations that are missing, gives the service's login what it needs, then gives the clinic its first policy
/// and its reference data. Where another migrator is at work on the same database, waits for it first.
///
/// # Errors
/// When the database cannot be reached, both logins are one, another migrator does not end within ten minutes, the
/// service's login cannot be prepared, or a migration fails; a failed migration leaves nothing behind.
pub async fn migrate(settings: &PoolSettings, owner_url: &str) -> Result<Migrated, StartError> {
    let login = login::name(&settings.url)?;
    let turn = take_turn(owner_url).await?;
    let mut conn = owner(owner_url).await?;
    login::not_the_owner(&mut conn, &login).await?;
    let (mut conn, ran) = run_pending(conn).await?;
    // The service looks at this table to see whether it fits the database.
    conn.batch_execute("GRANT SELECT ON __diesel_schema_migrations TO stillroom_service")
        .await
        .map_err(failed)?;
    login::prepare(&mut conn, &login).await?;
    drop(conn);
    let clinic = Clinic::open(settings, Clock::System, Rng::system())?;
    // Before anything changes a fact: what comes next is compared with how revisions come out now.
    let vouched_for = journal::vouch_for_older(&clinic).await?.total();
    let results = edition::keep_older_results(&clinic).await?;
    people::end_outdated_sessions(&clinic).await?;
    policy::begin(&clinic, &policy::beginning()).await?;
    let materials = edition::load(&clinic).await?;
    competencies::begin(&clinic).await?;
    policy::close_unsigned(&clinic).await?;
    journal::number_events(&clinic).await?;
    drop(turn);
    Ok(Migrated { ran, vouched_for, results, materials })
}

fn failed(error: impl ToString) -> StartError {
    StartError::Migration(error.to_string())
}

async fn owner(url: &str) -> Result<AsyncPgConnection, StartError> {
    AsyncPgConnection::establish(url).await.map_err(|error| StartError::Database(error.to_string()))
}

#[derive(QueryableByName)]
struct Locked {
    #[diesel(sql_type = Bool)]
    locked: bool,
}

/// Takes the migrators' lock, in a transaction that stays open as long as the connection that is answered.
async fn take_turn(owner_url: &str) -> Result<AsyncPgConnection, StartError> {
    let mut conn = owner(owner_url).await?;
    conn.batch_execute(
        "BEGIN; SET LOCAL idle_in_transaction_session_timeout = 0; SET LOCAL statement_timeout = 0;
         SET LOCAL lock_timeout = '10min'",
    )
    .await
    .map_err(failed)?;
    let free = diesel::sql_query("SELECT pg_try_advisory_xact_lock($1) AS locked")
        .bind::<BigInt, _>(MIGRATORS)
        .get_result::<Locked>(&mut conn)
        .await
        .map_err(failed)?;
    if !free.locked {
        tracing::warn!(
            "Another `stillroom migrate` is running on this database. Waiting until it has ended."
        );
        diesel::sql_query("SELECT pg_advisory_xact_lock($1)")
            .bind::<BigInt, _>(MIGRATORS)
            .execute(&mut conn)
            .await
            .map_err(|error| StartError::Turn(error.to_string()))?;
    }
    Ok(conn)
}

/// Runs what is missing, each migration in a transaction that waits no longer for a lock than others can wait for it.
async fn run_pending(mut conn: AsyncPgConnection) -> Result<(AsyncPgConnection, Vec<String>), StartError> {
    let mut ran = Vec::new();
    loop {
        let mut harness = AsyncMigrationHarness::new(conn);
        let next = next_of(&mut harness)?;
        conn = harness.into_inner();
        let Some((name, whole)) = next else { return Ok((conn, ran)) };
        if whole {
            AnsiTransactionManager::begin_transaction(&mut conn).await.map_err(failed)?;
            conn.batch_execute("SET LOCAL lock_timeout = '3s'; SET LOCAL statement_timeout = 0")
                .await
                .map_err(failed)?;
        }
        let mut harness = AsyncMigrationHarness::new(conn);
        harness
            .run_next_migration(MIGRATIONS)
            .map_err(|error| StartError::Migration(format!("{name}: {error}")))?;
        conn = harness.into_inner();
        if whole {
            AnsiTransactionManager::commit_transaction(&mut conn).await.map_err(failed)?;
        }
        ran.push(name);
    }
}

/// The name of the next migration, and whether it runs in a transaction.
fn next_of(harness: &mut impl MigrationHarness<Pg>) -> Result<Option<(String, bool)>, StartError> {
    let pending = harness.pending_migrations(MIGRATIONS).map_err(failed)?;
    Ok(pending.as_slice().first().map(|next| (next.name().to_string(), next.metadata().run_in_transaction())))
}

#[derive(QueryableByName)]
struct Version {
    #[diesel(sql_type = Text)]
    version: String,
}

/// Refuses a database that lacks a migration of this binary, a login that owns its tables, and a pooler that loses prepared
/// statements.
///
/// # Errors
/// Names the migration, the login or the pooler, and the cure.
pub async fn check(url: &str) -> Result<(), StartError> {
    let wanted: Vec<Box<dyn Migration<Pg>>> = MIGRATIONS.migrations().map_err(failed)?;
    pooler::keeps_statements(url).await?;
    let mut conn = clinic::connect(url).await.map_err(|error| StartError::Database(error.to_string()))?;
    let rows: Vec<Version> = diesel::sql_query("SELECT version FROM __diesel_schema_migrations")
        .load(&mut conn)
        .await
        .map_err(|_| StartError::NotMigrated("every one".into()))?;
    for migration in wanted {
        let version = migration.name().version().to_string();
        if !rows.iter().any(|row| row.version == version) {
            return Err(StartError::NotMigrated(migration.name().to_string()));
        }
    }
    login::owns_nothing(&mut conn).await
}
