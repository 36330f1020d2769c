//! The facts of materials in the versions that were written, or as they are now.

use std::collections::HashMap;
use std::sync::Arc;

use canonical::Sha;
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use materia::Material;
use schema::material_version;
use store::{Error, Result, Tx};
use uuid::Uuid;

/// The facts of materials in given versions, in one statement.
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

/// As [`facts_of`], under the same ids and versions, with the facts as they are now; those of a merged material are the
/// other's.
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

/// Reads facts whose digest matches. Others are not calculated with: the request fails and the log names the material.
fn read(id: Uuid, facts: serde_json::Value, digest: &[u8]) -> Result<Material> {
    if digest_of(&facts)[..] != *digest {
        tracing::error!(material = %id, "the facts of a material do not match their digest");
        return Err(Error::internal("facts that do not match their digest"));
    }
    Ok(serde_json::from_value(facts)?)
}

/// The digest of facts as they are stored, in the form that it has always had.
pub(crate) fn digest_of(facts: &serde_json::Value) -> Sha {
    canonical::digest([canonical::text(facts).as_bytes()])
}
