//! Migrations: run under the database's owner, apart from the service.

use clinic::{Clinic, Clock, PoolSettings, Rng, edition, journal, policy};
use diesel_async::{AsyncConnection, AsyncMigrationHarness, AsyncPgConnection, SimpleAsyncConnection};
use diesel_migrations::{EmbeddedMigrations, MigrationHarness, embed_migrations};

use crate::error::StartError;

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

/// Runs the migrations that are missing, then gives the clinic its first policy and its reference data.
///
/// # Errors
/// When the database cannot be reached or a migration fails; a failed migration leaves nothing behind.
pub async fn migrate(settings: &PoolSettings, owner_url: &str) -> Result<Migrated, StartError> {
    let conn = AsyncPgConnection::establish(owner_url)
        .await
        .map_err(|error| StartError::Database(error.to_string()))?;
    let mut harness = AsyncMigrationHarness::new(conn);
    let ran = harness
        .run_pending_migrations(MIGRATIONS)
        .map_err(|error| StartError::Migration(error.to_string()))?
        .iter()
        .map(ToString::to_string)
        .collect();
    // The service looks at this table to see whether it fits the database.
    harness
        .into_inner()
        .batch_execute("GRANT SELECT ON __diesel_schema_migrations TO stillroom_service")
        .await
        .map_err(|error| StartError::Migration(error.to_string()))?;
    let clinic = Clinic::open(settings, Clock::System, Rng::system())?;
    // Before anything changes a fact: what comes next is compared with how revisions come out now.
    let vouched_for = journal::vouch_for_older(&clinic).await?.total();
    let results = edition::keep_older_results(&clinic).await?;
    policy::begin(&clinic, &policy::beginning()).await?;
    let materials = edition::load(&clinic).await?;
    policy::close_unsigned(&clinic).await?;
    journal::number_events(&clinic).await?;
    Ok(Migrated { ran, vouched_for, results, materials })
}

/// Refuses a database that lacks a migration of this binary.
///
/// # Errors
/// Names the migration and the cure.
pub async fn check(url: &str) -> Result<(), StartError> {
    use diesel::migration::{Migration, MigrationSource};
    use diesel_async::RunQueryDsl;
    #[derive(diesel::QueryableByName)]
    struct Row {
        #[diesel(sql_type = diesel::sql_types::Text)]
        version: String,
    }
    let wanted: Vec<Box<dyn Migration<diesel::pg::Pg>>> =
        MIGRATIONS.migrations().map_err(|error| StartError::Migration(error.to_string()))?;
    let mut conn = clinic::connect(url).await.map_err(|error| StartError::Database(error.to_string()))?;
    let rows: Vec<Row> = diesel::sql_query("SELECT version FROM __diesel_schema_migrations")
        .load(&mut conn)
        .await
        .map_err(|_| StartError::NotMigrated("every one".into()))?;
    for migration in wanted {
        let version = migration.name().version().to_string();
        if !rows.iter().any(|row| row.version == version) {
            return Err(StartError::NotMigrated(migration.name().to_string()));
        }
    }
    Ok(())
}
