//! Facts of materials, in given versions or the current ones.

use std::collections::HashMap;
use std::sync::Arc;

use canonical::Sha;
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use materia::Material;
use schema::material_version;
use store::{Error, Result, Tx};
use uuid::Uuid;

/// The facts of materials in the given versions, in one statement. Versions that do not exist are left out.
///
/// # Errors
/// Returns [`store::Error::Internal`] if stored facts cannot be read, and the errors of the database.
pub async fn facts_of(
    tx: &mut Tx<'_>,
    wanted: impl IntoIterator<Item = (Uuid, i32)>,
) -> Result<HashMap<(Uuid, i32), Arc<Material>>> {
    let wanted: Vec<(Uuid, i32)> = wanted.into_iter().collect();
    let ids: Vec<Uuid> = wanted.iter().map(|(id, _)| *id).collect();
    let rows: Vec<(Uuid, i32, serde_json::Value, Vec<u8>)> = material_version::table
        .filter(material_version::material_id.eq_any(&ids))
        .select((
            material_version::material_id,
            material_version::version,
            material_version::facts,
            material_version::digest,
        ))
        .load(tx.conn())
        .await?;
    rows.into_iter()
        .filter(|(id, version, ..)| wanted.contains(&(*id, *version)))
        .map(|(id, version, facts, digest)| Ok(((id, version), Arc::new(read(id, facts, &digest)?))))
        .collect()
}

/// As [`facts_of`], but each given ID and version maps to the current facts. A merged material has the facts of the one
/// it was merged into.
///
/// # Errors
/// As [`facts_of`].
pub async fn facts_now(
    tx: &mut Tx<'_>,
    wanted: impl IntoIterator<Item = (Uuid, i32)>,
) -> Result<HashMap<(Uuid, i32), Arc<Material>>> {
    let wanted: Vec<(Uuid, i32)> = wanted.into_iter().collect();
    let ids: Vec<Uuid> = wanted.iter().map(|(id, _)| *id).collect();
    let rows: Vec<Present> = diesel::sql_query(
        "SELECT m.id, v.facts, v.digest FROM material m
         JOIN material c ON c.id = coalesce(m.merged_into, m.id)
         JOIN material_version v ON v.material_id = c.id AND v.version = c.current_version
         WHERE m.id = ANY($1)",
    )
    .bind::<diesel::sql_types::Array<diesel::sql_types::Uuid>, _>(&ids)
    .load(tx.conn())
    .await?;
    let now: HashMap<Uuid, Arc<Material>> = rows
        .into_iter()
        .map(|row| Ok((row.id, Arc::new(read(row.id, row.facts, &row.digest)?))))
        .collect::<Result<_>>()?;
    Ok(wanted.into_iter().filter_map(|key| Some((key, Arc::clone(now.get(&key.0)?)))).collect())
}

#[derive(QueryableByName)]
struct Present {
    #[diesel(sql_type = diesel::sql_types::Uuid)]
    id: Uuid,
    #[diesel(sql_type = diesel::sql_types::Jsonb)]
    facts: serde_json::Value,
    #[diesel(sql_type = diesel::sql_types::Binary)]
    digest: Vec<u8>,
}

/// Parses stored facts after a check of their digest. A mismatch fails the request and is logged with the material's
/// ID.
fn read(id: Uuid, facts: serde_json::Value, digest: &[u8]) -> Result<Material> {
    if digest_of(&facts)[..] != *digest {
        tracing::error!(material = %id, "the facts of a material do not match their digest");
        return Err(Error::internal("facts that do not match their digest"));
    }
    Ok(serde_json::from_value(facts)?)
}

/// The digest of stored facts. It has always used form 1.
pub(crate) fn digest_of(facts: &serde_json::Value) -> Sha {
    canonical::digest([canonical::text(facts).as_bytes()])
}
