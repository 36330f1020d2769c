//! Search for materials by name, tolerant of misspelling.

use std::collections::BTreeMap;

use diesel::prelude::QueryableByName;
use diesel_async::{RunQueryDsl, SimpleAsyncConnection};
use store::{Error, Result, Tx};
use uuid::Uuid;
use wire::materials::MaterialSummary;
use wire::page::Page;

use crate::summary::Summary;

/// The share of the trigrams of a search term that a name must contain. Chosen on the reference data: a term of eight
/// letters with two wrong ones still matches, names of other plants do not.
const NEAR_ENOUGH: &str = "SET LOCAL pg_trgm.word_similarity_threshold = 0.45";

/// The materials whose names are most similar to a search term, the most similar first.
///
/// # Errors
/// Returns [`Error::Invalid`] if the term is too short or too long, and the errors of the database.
pub(super) async fn search(tx: &mut Tx<'_>, typed: &str, limit: i64) -> Result<Page<MaterialSummary>> {
    let Some(typed) = searchable(typed) else {
        return Err(Error::field("?search", "Enter 2 to 100 characters of a name."));
    };
    let rows = near(tx, &typed, limit).await?;
    Ok(Page { items: rows.into_iter().map(MaterialSummary::from).collect(), next: None })
}

/// The most unknown names that suggestions are searched for, because each costs a search.
const ANSWERED: usize = 5;

/// A name that no material has.
#[derive(Clone, Debug, Default)]
pub struct Unnamed {
    /// The refusal, as a sentence.
    pub said: String,
    /// Similar names, the likeliest first.
    pub near: Vec<String>,
}

/// Refusals of unknown names, one for each, with similar names for the first few.
///
/// # Errors
/// Returns the errors of the database.
pub async fn nowhere(tx: &mut Tx<'_>, names: &[&str]) -> Result<Vec<Unnamed>> {
    let mut searched = BTreeMap::new();
    let mut unnamed = Vec::with_capacity(names.len());
    for name in names {
        let shown: String = name.chars().take(80).collect();
        if let Some(typed) = searchable(name)
            && !searched.contains_key(&typed)
            && searched.len() < ANSWERED
        {
            let found = near(tx, &typed, 5).await?;
            searched.insert(typed, found.into_iter().map(|found| found.name).collect::<Vec<_>>());
        }
        let near = searchable(name).and_then(|typed| searched.get(&typed)).cloned().unwrap_or_default();
        let said = if near.is_empty() {
            format!("No material is called {shown:?}. Search the materials for another of its names.")
        } else {
            let choice = one_of(&near);
            format!("{shown:?} is not the name of one material. Did you mean {choice}?")
        };
        unnamed.push(Unnamed { said, near });
    }
    Ok(unnamed)
}

/// The names as a choice, such as `"a", "b" or "c"`.
fn one_of(names: &[String]) -> String {
    let quoted: Vec<String> = names.iter().map(|name| format!("{name:?}")).collect();
    match quoted.as_slice() {
        [] => String::new(),
        [one] => one.clone(),
        [before @ .., last] => format!("{} or {last}", before.join(", ")),
    }
}

/// The normalised search term, if it has 2 to 100 characters.
fn searchable(typed: &str) -> Option<String> {
    let typed = typed.trim().to_lowercase();
    (2..=100).contains(&typed.chars().count()).then_some(typed)
}

/// The materials with names similar to `typed`. Cost: one scan of the trigram index and the rows it finds.
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

/// The pattern of texts that contain what was typed, whatever the case, for a comparison with `LIKE`.
///
/// # Errors
/// Returns [`Error::Invalid`] at `pointer` if the term is too short or too long.
pub fn contains(typed: &str, pointer: &'static str) -> Result<String> {
    let typed =
        searchable(typed).ok_or_else(|| Error::field(pointer, "Enter 2 to 100 characters to search for."))?;
    let mut pattern = String::from("%");
    for c in typed.chars() {
        if matches!(c, '\\' | '%' | '_') {
            pattern.push('\\');
        }
        pattern.push(c);
    }
    pattern.push('%');
    Ok(pattern)
}

/// The most materials that one part of a name may lead to.
const MOST_CALLED: usize = 1000;

#[derive(QueryableByName)]
struct Id {
    #[diesel(sql_type = diesel::sql_types::Uuid)]
    id: Uuid,
}

/// The materials that have this id, or a name or synonym that contains this text, with all that were merged into them and
/// the ones that they were merged into. Cost: one scan of the trigram index and the rows it finds.
///
/// # Errors
/// Returns [`Error::Invalid`] at `pointer` if the text is too short or too long or leads to too many materials, and the
/// errors of the database.
pub async fn called(tx: &mut Tx<'_>, typed: &str, pointer: &'static str) -> Result<Vec<Uuid>> {
    let id = typed.trim().parse::<Uuid>().ok();
    let pattern = if id.is_some() { String::new() } else { contains(typed, pointer)? };
    let named = if id.is_some() {
        "SELECT id FROM material WHERE id = $1"
    } else {
        "SELECT material_id AS id FROM material_term WHERE term LIKE $2"
    };
    let found: Vec<Id> = diesel::sql_query(format!(
        "WITH meant AS (
             SELECT DISTINCT coalesce(m.merged_into, m.id) AS id FROM ({named}) AS named
             JOIN material m ON m.id = named.id LIMIT $3)
         SELECT id FROM meant
         UNION SELECT m.id FROM material m JOIN meant ON m.merged_into = meant.id"
    ))
    .bind::<diesel::sql_types::Nullable<diesel::sql_types::Uuid>, _>(id)
    .bind::<diesel::sql_types::Text, _>(pattern)
    .bind::<diesel::sql_types::BigInt, _>(i64::try_from(MOST_CALLED + 1).unwrap_or(i64::MAX))
    .load(tx.conn())
    .await?;
    if found.len() > MOST_CALLED {
        let told = format!(
            "More than {MOST_CALLED} materials match. Enter more of the name, or the ID of a material."
        );
        return Err(Error::field(pointer, told));
    }
    Ok(found.into_iter().map(|row| row.id).collect())
}
