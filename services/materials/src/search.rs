//! Searching materials by names, misspelt ones too.

use std::collections::BTreeMap;

use diesel_async::{RunQueryDsl, SimpleAsyncConnection};
use store::{Error, Result, Tx};
use wire::materials::MaterialSummary;
use wire::page::Page;

use super::lookup::Summary;

/// How much of the trigrams of what was typed a name has to share. Tried on the reference data: two wrong letters in a
/// word of eight are forgiven, other plants are not found.
const NEAR_ENOUGH: &str = "SET LOCAL pg_trgm.word_similarity_threshold = 0.45";

/// The materials whose names are nearest to what was typed, the nearest first.
pub(super) async fn search(tx: &mut Tx<'_>, typed: &str, limit: i64) -> Result<Page<MaterialSummary>> {
    let Some(typed) = searchable(typed) else {
        return Err(Error::field("?search", "2 to 100 characters of a name"));
    };
    let rows = near(tx, &typed, limit).await?;
    Ok(Page { items: rows.into_iter().map(MaterialSummary::from).collect(), next: None })
}

/// How many names that lead nowhere are answered with what may have been meant: each costs a search.
const ANSWERED: usize = 5;

/// Says of names that each leads to no material, and of the first few what may have been meant.
pub async fn nowhere(tx: &mut Tx<'_>, names: &[&str]) -> Result<Vec<String>> {
    let mut searched = BTreeMap::new();
    let mut said = Vec::with_capacity(names.len());
    for name in names {
        let shown: String = name.chars().take(80).collect();
        if let Some(typed) = searchable(name)
            && !searched.contains_key(&typed)
            && searched.len() < ANSWERED
        {
            let found = near(tx, &typed, 5).await?;
            let names: Vec<String> = found.iter().map(|found| format!("{:?}", found.name)).collect();
            searched.insert(typed, names.join(", "));
        }
        said.push(match searchable(name).and_then(|typed| searched.get(&typed)) {
            Some(near) if !near.is_empty() => format!(
                "{shown:?} names no one material: write which is meant, such as {near}; all are under /v1/materials"
            ),
            _ => format!("{shown:?} leads to no material: look it up under /v1/materials"),
        });
    }
    Ok(said)
}

/// What was typed as it is searched for, where it is long enough to tell names apart.
fn searchable(typed: &str) -> Option<String> {
    let typed = typed.trim().to_lowercase();
    (2..=100).contains(&typed.chars().count()).then_some(typed)
}

/// Cost: one look into the index of trigrams, and the names found by it.
async fn near(tx: &mut Tx<'_>, typed: &str, limit: i64) -> Result<Vec<Summary>> {
    tx.conn().batch_execute(NEAR_ENOUGH).await?;
    let found = diesel::sql_query(
        "SELECT m.id, m.name, m.kind, m.current_version
         FROM (SELECT material_id, max(word_similarity($1, term)) AS part, max(similarity($1, term)) AS whole
               FROM material_term WHERE $1 <% term GROUP BY material_id) found
         JOIN material m ON m.id = found.material_id AND m.merged_into IS NULL
         ORDER BY found.part DESC, found.whole DESC, m.name COLLATE \"C\", m.id LIMIT $2",
    )
    .bind::<diesel::sql_types::Text, _>(typed)
    .bind::<diesel::sql_types::BigInt, _>(limit)
    .load(tx.conn())
    .await?;
    Ok(found)
}
