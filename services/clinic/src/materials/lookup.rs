//! Finding materials.

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use schema::{material, material_synonym, material_version};
use uuid::Uuid;
use wire::ids::MaterialId;
use wire::materials::{Material, MaterialSummary};
use wire::page::{Page, PageQuery};

use crate::error::{Error, Result};
use crate::page::Slice;
use crate::sql::lower;
use crate::tx::{Claim, Clinic, Tx};

/// A material that a name led to, in its current version.
#[derive(Clone, Debug)]
pub(crate) struct Found {
    pub(crate) id: MaterialId,
    pub(crate) version: i32,
    pub(crate) name: String,
}

/// The materials that names, synonyms or ids lead to: one answer per text, in two statements for all of them.
pub(crate) async fn resolve(tx: &mut Tx<'_>, texts: &[&str]) -> Result<Vec<Option<Found>>> {
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
    let rows: Vec<(Uuid, i32, String)> = material::table
        .filter(lower(material::name).eq_any(&wanted).or(material::id.eq_any(&ids)))
        .select((material::id, material::current_version, material::name))
        .load(tx.conn())
        .await?;
    Ok(wanted
        .iter()
        .map(|text| {
            let id: Option<Uuid> = text.parse().ok();
            let synonym = by_synonym.iter().find(|(synonym, _)| synonym == text).map(|(_, id)| *id);
            rows.iter()
                .find(|(_, _, name)| name.to_lowercase() == *text)
                .or_else(|| rows.iter().find(|(row, _, _)| Some(*row) == id || Some(*row) == synonym))
                .map(|(id, version, name)| Found {
                    id: MaterialId(*id),
                    version: *version,
                    name: name.clone(),
                })
        })
        .collect())
}

/// The materia medica by name. Cost: one index range, whatever the depth.
///
/// # Errors
/// When the claim does not hold.
pub async fn materials(clinic: &Clinic, claim: &Claim, query: &PageQuery) -> Result<Page<MaterialSummary>> {
    let slice = Slice::<(String, Uuid)>::parse(query.limit, query.after.as_deref())?;
    clinic
        .read(claim, async |tx| {
            let (name, id) = slice.after.clone().unwrap_or_default();
            let rows: Vec<Summary> = diesel::sql_query(
                "SELECT id, name, kind, current_version FROM material
                 WHERE (name COLLATE \"C\", id) > ($1, $2) ORDER BY name COLLATE \"C\", id LIMIT $3",
            )
            .bind::<diesel::sql_types::Text, _>(name)
            .bind::<diesel::sql_types::Uuid, _>(id)
            .bind::<diesel::sql_types::BigInt, _>(slice.fetch())
            .load(tx.conn())
            .await?;
            let page = slice.page(rows, |row| (row.name.clone(), row.id))?;
            let items = page
                .items
                .into_iter()
                .map(|row| MaterialSummary {
                    id: MaterialId(row.id),
                    name: row.name,
                    kind: row.kind,
                    version: row.current_version.unsigned_abs(),
                })
                .collect();
            Ok(Page { items, next: page.next })
        })
        .await
}

#[derive(QueryableByName)]
struct Summary {
    #[diesel(sql_type = diesel::sql_types::Uuid)]
    id: Uuid,
    #[diesel(sql_type = diesel::sql_types::Text)]
    name: String,
    #[diesel(sql_type = diesel::sql_types::Text)]
    kind: String,
    #[diesel(sql_type = diesel::sql_types::Integer)]
    current_version: i32,
}

/// One material with its facts.
///
/// # Errors
/// When there is no such material.
pub async fn material(clinic: &Clinic, claim: &Claim, id: MaterialId) -> Result<Material> {
    clinic
        .read(claim, async |tx| {
            let row: Option<(String, String, i32, serde_json::Value)> = material::table
                .inner_join(
                    material_version::table.on(material_version::material_id
                        .eq(material::id)
                        .and(material_version::version.eq(material::current_version))),
                )
                .filter(material::id.eq(id.0))
                .select((material::name, material::kind, material::current_version, material_version::facts))
                .first(tx.conn())
                .await
                .optional()?;
            let (name, kind, version, facts) = row.ok_or(Error::NotFound("material"))?;
            let synonyms = material_synonym::table
                .filter(material_synonym::material_id.eq(id.0))
                .order(material_synonym::synonym)
                .select(material_synonym::synonym)
                .load(tx.conn())
                .await?;
            Ok(Material { id, name, kind, version: version.unsigned_abs(), synonyms, facts })
        })
        .await
}
