//! Formulas found by their titles, so that an instructor names them as everybody does.

use diesel::prelude::*;
use diesel::sql_types::{Array, Text, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use store::{Credentials, Result, Store};
use uuid::Uuid;
use wire::ids::RevisionId;

/// A formula that may be made, as it is found by its title.
#[derive(Clone, Debug)]
pub struct Called {
    /// The title.
    pub title: String,
    /// The library, which tells formulas of one title apart.
    pub library: String,
    /// Its approved revision.
    pub revision: RevisionId,
}

impl Called {
    /// Whether the formula is meant by what was typed: its title, or title and library in brackets.
    #[must_use]
    pub fn is(&self, typed: &str) -> bool {
        let typed = typed.trim().to_lowercase();
        self.title.to_lowercase() == typed || self.in_full().to_lowercase() == typed
    }

    /// The title with the library.
    #[must_use]
    pub fn in_full(&self) -> String {
        format!("{} ({})", self.title, self.library)
    }
}

#[derive(QueryableByName)]
struct Row {
    #[diesel(sql_type = Text)]
    title: String,
    #[diesel(sql_type = Text)]
    library: String,
    #[diesel(sql_type = SqlUuid)]
    revision: Uuid,
}

/// The approved formulas of the caller's libraries with these titles, each alone or with its library in brackets. One
/// statement.
///
/// # Errors
/// Returns the errors of verifying the credentials.
pub async fn formulas_called(
    store: &Store,
    credentials: &Credentials,
    titles: &[String],
) -> Result<Vec<Called>> {
    let titles: Vec<String> = titles.iter().map(|title| title.trim().to_lowercase()).collect();
    store
        .read(credentials, async |tx| {
            let me = tx.person()?.id.0;
            let rows: Vec<Row> = diesel::sql_query(
                "SELECT f.title, l.name AS library, f.approved_revision_id AS revision FROM formula f
                 JOIN library l ON l.id = f.library_id
                 JOIN library_member m ON m.library_id = f.library_id AND m.holder_id = $1
                 WHERE f.approved_revision_id IS NOT NULL
                   AND (lower(f.title) = ANY ($2) OR lower(f.title || ' (' || l.name || ')') = ANY ($2))
                 ORDER BY l.name, f.id",
            )
            .bind::<SqlUuid, _>(me)
            .bind::<Array<Text>, _>(&titles)
            .load(tx.conn())
            .await?;
            let called = |row: Row| Called {
                title: row.title,
                library: row.library,
                revision: RevisionId(row.revision),
            };
            Ok(rows.into_iter().map(called).collect())
        })
        .await
}
