//! Searching materials by names, misspelt ones too.

use diesel_async::{RunQueryDsl, SimpleAsyncConnection};
use wire::materials::MaterialSummary;
use wire::page::Page;

use super::lookup::Summary;
use crate::error::{Error, Result};
use crate::tx::Tx;

/// How much of the trigrams of what was typed a name has to share. Tried on the reference data: two wrong letters in a
/// word of eight are forgiven, other plants are not found.
const NEAR_ENOUGH: &str = "SET LOCAL pg_trgm.word_similarity_threshold = 0.45";

/// The materials whose names are nearest to what was typed, the nearest first. Cost: one look into the index of
/// trigrams, and the names found by it.
pub(super) async fn search(tx: &mut Tx<'_>, typed: &str, limit: i64) -> Result<Page<MaterialSummary>> {
    let typed = typed.trim().to_lowercase();
    if !(2..=100).contains(&typed.chars().count()) {
        return Err(Error::field("?search", "2 to 100 characters of a name"));
    }
    tx.conn().batch_execute(NEAR_ENOUGH).await?;
    let rows: Vec<Summary> = diesel::sql_query(
        "SELECT m.id, m.name, m.kind, m.current_version
         FROM (SELECT material_id, max(word_similarity($1, term)) AS part, max(similarity($1, term)) AS whole
               FROM material_term WHERE $1 <% term GROUP BY material_id) found
         JOIN material m ON m.id = found.material_id AND m.merged_into IS NULL
         ORDER BY found.part DESC, found.whole DESC, m.name COLLATE \"C\", m.id LIMIT $2",
    )
    .bind::<diesel::sql_types::Text, _>(&typed)
    .bind::<diesel::sql_types::BigInt, _>(limit)
    .load(tx.conn())
    .await?;
    Ok(Page { items: rows.into_iter().map(MaterialSummary::from).collect(), next: None })
}
