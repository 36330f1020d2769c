//! Writes of materials: new versions of their facts, names and merges.
//!
//! Every write records an event. Never here: a change of a stored version.

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use materia::Material;
use schema::{material, material_synonym, material_term, material_version};
use serde_json::json;
use store::{Error, NewEvent, Result, Tx, violates};
use uuid::Uuid;
use wire::ids::PersonId;

use canonical::Sha;

use crate::kept::{MATERIAL, VERSION};

/// The origin of a version of a material.
#[derive(Clone, Copy)]
pub enum Said<'a> {
    /// The reference data, with the name of the edition.
    Reference(&'a str),
    /// A person, with the ID of the amendment.
    Person(PersonId, Uuid),
}

/// A material in its current version.
#[derive(Clone, Debug)]
pub struct Standing {
    /// ID of the material.
    pub id: Uuid,
    /// The current version.
    pub version: i32,
    /// The facts of that version.
    pub facts: Material,
}

/// The digest of the facts of a material, over their canonical form.
///
/// # Errors
/// Returns [`Error::Internal`] if the facts cannot be serialised.
pub fn digest(material: &Material) -> Result<Sha> {
    let facts = serde_json::to_value(material)?;
    Ok(canonical::digest([canonical::text(&facts).as_bytes()]))
}

/// Adds a material in version 1 and returns its ID.
///
/// # Errors
/// Returns [`Error::Conflict`] if a material has this name.
pub async fn add(tx: &mut Tx<'_>, facts: &Material, said: Said<'_>) -> Result<Uuid> {
    let id = tx.new_id();
    diesel::insert_into(material::table)
        .values((
            material::id.eq(id),
            material::reference_key.eq(match said {
                Said::Reference(_) => Some(&facts.key),
                Said::Person(..) => None,
            }),
            material::name.eq(&facts.name),
            material::kind.eq(facts.kind.word()),
            material::current_version.eq(1),
        ))
        .execute(tx.conn())
        .await
        .map_err(|error| name_taken(error, facts))?;
    version(tx, id, 1, facts, said).await?;
    Ok(id)
}

/// Adds the next version of a material.
///
/// # Errors
/// Returns [`Error::Conflict`] if another material has the new name.
pub async fn revise(tx: &mut Tx<'_>, before: &Standing, facts: &Material, said: Said<'_>) -> Result<()> {
    diesel::update(material::table.find(before.id))
        .set((
            material::current_version.eq(before.version + 1),
            material::name.eq(&facts.name),
            material::kind.eq(facts.kind.word()),
        ))
        .execute(tx.conn())
        .await
        .map_err(|error| name_taken(error, facts))?;
    version(tx, before.id, before.version + 1, facts, said).await
}

fn name_taken(error: diesel::result::Error, facts: &Material) -> Error {
    if violates(&error, "material_name") {
        Error::Conflict(format!("A material called {:?} already exists. Revise that material.", facts.name))
    } else {
        error.into()
    }
}

async fn version(tx: &mut Tx<'_>, id: Uuid, number: i32, facts: &Material, said: Said<'_>) -> Result<()> {
    let now = tx.now();
    let digest = digest(facts)?;
    let (edition, by, action) = match said {
        Said::Reference(edition) => (Some(edition), None, "reference_data_loaded"),
        Said::Person(by, _) => (None, Some(by.0), if number == 1 { "added" } else { "revised" }),
    };
    diesel::insert_into(material_version::table)
        .values((
            material_version::material_id.eq(id),
            material_version::version.eq(number),
            material_version::facts.eq(serde_json::to_value(facts)?),
            material_version::digest.eq(&digest[..]),
            material_version::reference_version.eq(edition),
            material_version::created_by.eq(by),
            material_version::created_at.eq(now),
        ))
        .execute(tx.conn())
        .await?;
    terms(tx, id, facts).await?;
    let detail = match said {
        Said::Reference(_) => json!({}),
        Said::Person(_, amendment) => json!({ "amendment": amendment }),
    };
    tx.record(
        NewEvent::new("material", id, action)
            .after(digest)
            .detail(detail)
            .keeps(&MATERIAL, [id])
            .keeps(&VERSION, [id.to_string(), number.to_string()]),
    );
    Ok(())
}

/// Replaces the names that the search finds a material by.
async fn terms(tx: &mut Tx<'_>, id: Uuid, facts: &Material) -> Result<()> {
    let botanical = facts.botanical.as_ref().map(|botanical| &botanical.species);
    let mut names: Vec<String> = std::iter::once(&facts.name)
        .chain(&facts.synonyms)
        .chain(&facts.inci)
        .chain(botanical.map(|species| &species.name))
        .chain(botanical.into_iter().flat_map(|species| &species.common_names))
        .map(|name| name.to_lowercase())
        .collect();
    names.sort_unstable();
    names.dedup();
    diesel::delete(material_term::table.filter(material_term::material_id.eq(id))).execute(tx.conn()).await?;
    let rows: Vec<_> =
        names.iter().map(|name| (material_term::material_id.eq(id), material_term::term.eq(name))).collect();
    diesel::insert_into(material_term::table).values(rows).execute(tx.conn()).await?;
    Ok(())
}

/// Adds synonyms, in lower case, by which an author may name the material in a formula. A synonym of another material
/// stays with that material.
///
/// # Errors
/// Returns the errors of the database.
pub async fn synonyms(tx: &mut Tx<'_>, id: Uuid, names: impl Iterator<Item = String>) -> Result<()> {
    let rows: Vec<_> = names
        .map(|name| (material_synonym::synonym.eq(name), material_synonym::material_id.eq(id)))
        .collect();
    let added = diesel::insert_into(material_synonym::table)
        .values(rows)
        .on_conflict_do_nothing()
        .execute(tx.conn())
        .await?;
    if added > 0 {
        tx.record(NewEvent::new("material", id, "names_changed").keeps(&MATERIAL, [id]));
    }
    Ok(())
}

/// Removes synonyms of a material.
///
/// # Errors
/// Returns the errors of the database.
pub async fn no_synonyms(tx: &mut Tx<'_>, id: Uuid, names: &[String]) -> Result<()> {
    if !names.is_empty() {
        let led_here = material_synonym::table
            .filter(material_synonym::material_id.eq(id))
            .filter(material_synonym::synonym.eq_any(names));
        if diesel::delete(led_here).execute(tx.conn()).await? > 0 {
            tx.record(NewEvent::new("material", id, "names_changed").keeps(&MATERIAL, [id]));
        }
    }
    Ok(())
}

/// Reads a material. Whoever changes it holds settling alone (crate `locks`), so that it stays as it is read.
///
/// # Errors
/// Returns [`Error::NotFound`] if there is no such material, and [`Error::Conflict`] if it was merged into another.
pub async fn standing(tx: &mut Tx<'_>, id: Uuid) -> Result<Standing> {
    let row: Option<(i32, Option<Uuid>, String)> = material::table
        .find(id)
        .select((material::current_version, material::merged_into, material::name))
        .first(tx.conn())
        .await
        .optional()?;
    let (version, merged_into, name) = row.ok_or(Error::NotFound("material"))?;
    if let Some(other) = merged_into {
        return Err(Error::Conflict(format!(
            "{name:?} was merged into the material {other}. Change that material."
        )));
    }
    let facts: serde_json::Value =
        material_version::table.find((id, version)).select(material_version::facts).first(tx.conn()).await?;
    Ok(Standing { id, version, facts: serde_json::from_value(facts)? })
}

/// Whether a material has this name, given in lower case. Merged materials count.
///
/// # Errors
/// Returns the errors of the database.
pub async fn is_taken(tx: &mut Tx<'_>, name: &str) -> Result<bool> {
    let found = material::table.filter(store::sql::lower(material::name).eq(name));
    Ok(diesel::select(diesel::dsl::exists(found)).get_result(tx.conn()).await?)
}

/// Whether a material comes from the reference data, whose rules may refer to it by key.
///
/// # Errors
/// Returns the errors of the database.
pub async fn is_of_reference(tx: &mut Tx<'_>, id: Uuid) -> Result<bool> {
    let found = material::table.filter(material::id.eq(id)).filter(material::reference_key.is_not_null());
    Ok(diesel::select(diesel::dsl::exists(found)).get_result(tx.conn()).await?)
}

/// Merges a material into another. Formulas keep referring to it; its names resolve to the other material.
///
/// # Errors
/// Returns the errors of the database.
pub async fn merge(tx: &mut Tx<'_>, merged: &Standing, into: &Standing, amendment: Uuid) -> Result<()> {
    // Materials merged into it earlier are redirected too, so that a merge never points to a merged material.
    let moved: Vec<Uuid> = diesel::update(
        material::table.filter(material::id.eq(merged.id).or(material::merged_into.eq(merged.id))),
    )
    .set(material::merged_into.eq(into.id))
    .returning(material::id)
    .get_results(tx.conn())
    .await?;
    diesel::update(material_synonym::table.filter(material_synonym::material_id.eq(merged.id)))
        .set(material_synonym::material_id.eq(into.id))
        .execute(tx.conn())
        .await?;
    diesel::sql_query(
        "WITH gone AS (DELETE FROM material_term WHERE material_id = $1 RETURNING term)
         INSERT INTO material_term (material_id, term) SELECT $2, term FROM gone ON CONFLICT DO NOTHING",
    )
    .bind::<diesel::sql_types::Uuid, _>(merged.id)
    .bind::<diesel::sql_types::Uuid, _>(into.id)
    .execute(tx.conn())
    .await?;
    let detail = json!({ "into": into.id, "amendment": amendment });
    let event = NewEvent::new("material", merged.id, "merged").detail(detail).keeps(&MATERIAL, [into.id]);
    tx.record(moved.into_iter().fold(event, |event, id| event.keeps(&MATERIAL, [id])));
    Ok(())
}
