//! Look-up of materials by name or ID, and reads of one material.

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use schema::{material, material_synonym, material_version};
use store::{Credentials, Error, Result, Store, Tx, page::PageRequest, sql::lower};
use uuid::Uuid;
use wire::ids::MaterialId;
use wire::materials::{EntryVersion, Material, MaterialQuery, MaterialSummary};
use wire::page::Page;

use crate::search::search;
use crate::summary::Summary;
use crate::versions::standing;

/// A material that a name resolved to.
#[derive(Clone, Debug)]
pub struct Found {
    /// The material; for a merged name, the one it was merged into.
    pub id: MaterialId,
    /// The current version of its facts.
    pub version: i32,
    /// Its current name.
    pub name: String,
}

/// Resolves names, synonyms or IDs, in two statements for all of them. Returns one result for each text, in order;
/// `None` for a text that names no material.
///
/// # Errors
/// Returns the errors of the database.
pub async fn resolve(tx: &mut Tx<'_>, texts: &[&str]) -> Result<Vec<Option<Found>>> {
    let wanted: Vec<String> = texts.iter().map(|text| text.trim().to_lowercase()).collect();
    let by_synonym: Vec<(String, Uuid)> = material_synonym::table
        .filter(material_synonym::synonym.eq_any(&wanted))
        .select((material_synonym::synonym, material_synonym::material_id))
        .load(tx.conn())
        .await?;
    let ids: Vec<Uuid> = wanted
        .iter()
        .filter_map(|text| text.parse().ok())
        .chain(by_synonym.iter().map(|(_, id)| *id))
        .collect();
    // The name of a merged material resolves to the material it was merged into.
    let other = diesel::alias!(schema::material as other);
    let rows: Vec<(Uuid, String, Uuid, i32, String)> = material::table
        .inner_join(
            other.on(other
                .field(material::id)
                .nullable()
                .eq(material::merged_into)
                .or(material::merged_into.is_null().and(other.field(material::id).eq(material::id)))),
        )
        .filter(lower(material::name).eq_any(&wanted).or(material::id.eq_any(&ids)))
        .select((
            material::id,
            material::name,
            other.field(material::id),
            other.field(material::current_version),
            other.field(material::name),
        ))
        .load(tx.conn())
        .await?;
    Ok(wanted
        .iter()
        .map(|text| {
            let id: Option<Uuid> = text.parse().ok();
            let synonym = by_synonym.iter().find(|(synonym, _)| synonym == text).map(|(_, id)| *id);
            rows.iter()
                .find(|(_, name, ..)| name.to_lowercase() == *text)
                .or_else(|| rows.iter().find(|(row, ..)| Some(*row) == id || Some(*row) == synonym))
                .map(|(_, _, id, version, name)| Found {
                    id: MaterialId(*id),
                    version: *version,
                    name: name.clone(),
                })
        })
        .collect())
}

/// The materia medica by name, or the result of a search in it. Cost: one index range for each page, at any depth.
///
/// # Errors
/// Returns [`Error::Invalid`] for a refused search or cursor, and the errors of verifying `claim`.
pub async fn materials(
    store: &Store,
    credentials: &Credentials,
    query: &MaterialQuery,
) -> Result<Page<MaterialSummary>> {
    let slice = PageRequest::<(String, Uuid)>::parse(query.limit, query.after.as_deref())?;
    if query.search.is_some() && query.after.is_some() {
        return Err(Error::field(
            "?after",
            "A search returns one page. Raise `limit`, or enter more of the name.",
        ));
    }
    store
        .read(credentials, async |tx| {
            if let Some(typed) = &query.search {
                return search(tx, typed, slice.limit.into()).await;
            }
            // As a reader looks it up: "German chamomile oil" between "garlic" and "ginger". No two names differ in case alone.
            let rows: Vec<Summary> = diesel::sql_query(
                "SELECT id, name, kind, current_version FROM material
                 WHERE lower(name) > lower($1) AND merged_into IS NULL ORDER BY lower(name) LIMIT $2",
            )
            .bind::<diesel::sql_types::Text, _>(slice.after.clone().unwrap_or_default().0)
            .bind::<diesel::sql_types::BigInt, _>(slice.fetch())
            .load(tx.conn())
            .await?;
            let page = slice.page(rows, |row| (row.name.clone(), row.id))?;
            Ok(Page { items: page.items.into_iter().map(MaterialSummary::from).collect(), next: page.next })
        })
        .await
}

/// One material with its current facts.
///
/// # Errors
/// Returns [`Error::NotFound`] if there is no such material.
pub async fn material(store: &Store, credentials: &Credentials, id: MaterialId) -> Result<Material> {
    store
        .read(credentials, async |tx| {
            let row: Option<(String, String, i32, Option<Uuid>, serde_json::Value)> = material::table
                .inner_join(
                    material_version::table.on(material_version::material_id
                        .eq(material::id)
                        .and(material_version::version.eq(material::current_version))),
                )
                .filter(material::id.eq(id.0))
                .select((
                    material::name,
                    material::kind,
                    material::current_version,
                    material::merged_into,
                    material_version::facts,
                ))
                .first(tx.conn())
                .await
                .optional()?;
            let (name, kind, version, merged_into, facts) = row.ok_or(Error::NotFound("material"))?;
            let synonyms = material_synonym::table
                .filter(material_synonym::material_id.eq(id.0))
                .order(material_synonym::synonym)
                .select(material_synonym::synonym)
                .load(tx.conn())
                .await?;
            let merged_into = merged_into.map(MaterialId);
            Ok(Material { id, name, kind, version: version.unsigned_abs(), synonyms, merged_into, facts })
        })
        .await
}

/// A material in the form in which it can be revised.
///
/// # Errors
/// Returns [`Error::Forbidden`] unless the caller is an instructor or administrator, [`Error::NotFound`] if there is no
/// such material, and [`Error::Conflict`] if it was merged into another.
pub async fn entry(store: &Store, credentials: &Credentials, id: MaterialId) -> Result<EntryVersion> {
    store
        .write(credentials, async |tx| {
            tx.staff()?;
            let standing = standing(tx, id.0).await?;
            let entry = crate::entry::entry_out(materia::Entry::of(&standing.facts));
            Ok(EntryVersion { material: id, version: standing.version.unsigned_abs(), entry })
        })
        .await
}
