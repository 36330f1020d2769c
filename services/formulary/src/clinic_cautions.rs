//! The clinic's amendments to cautions that are in force.

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use judgement::ClinicCautions;
use judgement::clinic_cautions::Added;
use schema::{amendment, material};
use store::{Result, Tx};
use uuid::Uuid;

use crate::change::{Change, StoredChange};

/// Reads the amendments in force, the newest last. Cost: two statements over the clinic's amendments of cautions, which
/// are few.
///
/// # Errors
/// Returns the errors of the database.
pub async fn read(tx: &mut Tx<'_>) -> Result<ClinicCautions> {
    let rows: Vec<(Uuid, serde_json::Value, String, Option<Uuid>)> = amendment::table
        .filter(amendment::state.eq("in_force"))
        .filter(amendment::kind.eq_any(["add_caution", "change_caution"]))
        .order((amendment::decided_at, amendment::id))
        .select((amendment::id, amendment::change, amendment::reason, amendment::decided_by))
        .load(tx.conn())
        .await?;
    let mut own = ClinicCautions::default();
    for (amendment, change, reason, decided_by) in rows {
        match serde_json::from_value::<StoredChange>(change)?.change {
            Change::AddCaution(caution) => {
                let materials = caution.on.material.into_iter().collect();
                own.added.push(Added { amendment, caution, materials });
            }
            Change::ChangeCaution(change) => {
                own.change(change.key, change.level.map(Into::into), decided_by.is_some(), reason, amendment);
            }
            _ => {}
        }
    }
    names(tx, &mut own).await?;
    Ok(own)
}

/// Extends each caution on a material to the materials that are merged with it.
async fn names(tx: &mut Tx<'_>, own: &mut ClinicCautions) -> Result<()> {
    if own.added.iter().all(|added| added.materials.is_empty()) {
        return Ok(());
    }
    let merged: Vec<(Uuid, Uuid)> = material::table
        .filter(material::merged_into.is_not_null())
        .select((material::id, material::merged_into.assume_not_null()))
        .load(tx.conn())
        .await?;
    for added in &mut own.added {
        let &[said] = added.materials.as_slice() else { continue };
        let into = merged.iter().find(|(alias, _)| *alias == said).map_or(said, |(_, into)| *into);
        let aliases = merged.iter().filter(|(_, other)| *other == into).map(|(alias, _)| *alias);
        added.materials = aliases.chain([into]).collect();
    }
    Ok(())
}
