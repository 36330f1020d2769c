//! Finding materials.

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use schema::{material, material_synonym, material_version};
use store::{Claim, Error, Result, Store, Tx, page::Slice, sql::lower};
use uuid::Uuid;
use wire::ids::MaterialId;
use wire::materials::{EntryVersion, Material, MaterialQuery, MaterialSummary};
use wire::page::Page;

use super::search::search;

/// A material that a name led to, in its current version.
#[derive(Clone, Debug)]
pub struct Found {
    pub id: MaterialId,
    pub version: i32,
    pub name: String,
}

/// The materials that names, synonyms or ids lead to: one answer per text, in two statements for all of them.
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
    // A merged material's name leads to the other.
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

/// The materia medica by name, or what a search finds in it. Cost: one index range, whatever the depth.
///
/// # Errors
/// When the claim does not hold, or what is searched for is too short.
pub async fn materials(store: &Store, claim: &Claim, query: &MaterialQuery) -> Result<Page<MaterialSummary>> {
    let slice = Slice::<(String, Uuid)>::parse(query.limit, query.after.as_deref())?;
    if query.search.is_some() && query.after.is_some() {
        return Err(Error::field(
            "?after",
            "a search has one page: raise `limit` or search for more of the name",
        ));
    }
    store
        .read(claim, async |tx| {
            if let Some(typed) = &query.search {
                return search(tx, typed, slice.limit.into()).await;
            }
            let (name, id) = slice.after.clone().unwrap_or_default();
            let rows: Vec<Summary> = diesel::sql_query(
                "SELECT id, name, kind, current_version FROM material
                 WHERE (name COLLATE \"C\", id) > ($1, $2) AND merged_into IS NULL ORDER BY name COLLATE \"C\", id LIMIT $3",
            )
            .bind::<diesel::sql_types::Text, _>(name)
            .bind::<diesel::sql_types::Uuid, _>(id)
            .bind::<diesel::sql_types::BigInt, _>(slice.fetch())
            .load(tx.conn())
            .await?;
            let page = slice.page(rows, |row| (row.name.clone(), row.id))?;
            Ok(Page { items: page.items.into_iter().map(MaterialSummary::from).collect(), next: page.next })
        })
        .await
}

impl From<Summary> for MaterialSummary {
    fn from(row: Summary) -> Self {
        Self {
            id: MaterialId(row.id),
            name: row.name,
            kind: row.kind,
            version: row.current_version.unsigned_abs(),
        }
    }
}

#[derive(QueryableByName)]
pub(super) struct Summary {
    #[diesel(sql_type = diesel::sql_types::Uuid)]
    id: Uuid,
    #[diesel(sql_type = diesel::sql_types::Text)]
    pub(super) name: String,
    #[diesel(sql_type = diesel::sql_types::Text)]
    kind: String,
    #[diesel(sql_type = diesel::sql_types::Integer)]
    current_version: i32,
}

/// One material with its facts.
///
/// # Errors
/// When there is no such material.
pub async fn material(store: &Store, claim: &Claim, id: MaterialId) -> Result<Material> {
    store
        .read(claim, async |tx| {
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

/// A material as it can be revised.
///
/// # Errors
/// When the caller is not an instructor or an administrator, or there is no such material.
pub async fn entry(store: &Store, claim: &Claim, id: MaterialId) -> Result<EntryVersion> {
    store
        .write(claim, async |tx| {
            tx.staff()?;
            let standing = super::versions::standing(tx, id.0).await?;
            let entry = crate::entry::entry_out(materia::Entry::of(&standing.facts));
            Ok(EntryVersion { material: id, version: standing.version.unsigned_abs(), entry })
        })
        .await
}
