//! Loading the reference data: what is missing is added, what has changed becomes a new version, and what the
//! clinic itself changed stays.

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use materia::{Materia, Material};
use schema::{material, material_synonym, material_version};
use serde_json::Value;
use uuid::Uuid;

use crate::canonical;
use crate::error::Result;
use crate::journal::{self, NewEvent};
use crate::tx::{Clinic, Tx};

/// Loads the reference data; says how many materials were added or got a new version.
///
/// # Errors
/// When the database cannot be written.
pub async fn load(clinic: &Clinic, reference: &Materia) -> Result<usize> {
    clinic
        .unclaimed(async |tx| {
            let mut changed = 0;
            for entry in &reference.materials {
                if load_one(tx, entry, &reference.version.number.to_string()).await? {
                    changed += 1;
                }
            }
            for entry in &reference.materials {
                synonyms(tx, reference, entry).await?;
            }
            Ok(changed)
        })
        .await
}

async fn load_one(tx: &mut Tx<'_>, entry: &Material, reference_version: &str) -> Result<bool> {
    let facts = serde_json::to_value(entry)?;
    let digest = canonical::digest([canonical::text(&facts).as_bytes()]);
    let known: Option<(Uuid, i32)> = material::table
        .filter(material::reference_key.eq(&entry.key))
        .select((material::id, material::current_version))
        .for_update()
        .first(tx.conn())
        .await
        .optional()?;
    let (id, version) = match known {
        None => {
            let id = tx.new_id();
            diesel::insert_into(material::table)
                .values((
                    material::id.eq(id),
                    material::reference_key.eq(&entry.key),
                    material::name.eq(&entry.name),
                    material::kind.eq(entry.kind.word()),
                    material::current_version.eq(1),
                ))
                .execute(tx.conn())
                .await?;
            (id, 1)
        }
        Some((id, current)) => {
            let (had, made_by): (Vec<u8>, Option<Uuid>) = material_version::table
                .find((id, current))
                .select((material_version::digest, material_version::made_by))
                .first(tx.conn())
                .await?;
            // A version that a person made is the clinic's own word on the material.
            if had == digest || made_by.is_some() {
                return Ok(false);
            }
            diesel::update(material::table.find(id))
                .set((
                    material::current_version.eq(current + 1),
                    material::name.eq(&entry.name),
                    material::kind.eq(entry.kind.word()),
                ))
                .execute(tx.conn())
                .await?;
            (id, current + 1)
        }
    };
    insert_version(tx, id, version, &facts, &digest, reference_version).await?;
    Ok(true)
}

async fn insert_version(
    tx: &mut Tx<'_>,
    id: Uuid,
    version: i32,
    facts: &Value,
    digest: &canonical::Sha,
    reference_version: &str,
) -> Result<()> {
    let now = tx.now;
    diesel::insert_into(material_version::table)
        .values((
            material_version::material_id.eq(id),
            material_version::version.eq(version),
            material_version::facts.eq(facts),
            material_version::digest.eq(&digest[..]),
            material_version::reference_version.eq(reference_version),
            material_version::made_at.eq(now),
        ))
        .execute(tx.conn())
        .await?;
    journal::record(tx, NewEvent::new("material", id, "reference_data_loaded").after(*digest)).await
}

/// A synonym that leads to more than one material leads to none: the author must say which is meant.
async fn synonyms(tx: &mut Tx<'_>, reference: &Materia, entry: &Material) -> Result<()> {
    let id: Uuid = material::table
        .filter(material::reference_key.eq(&entry.key))
        .select(material::id)
        .first(tx.conn())
        .await?;
    let names = entry.synonyms.iter().chain(entry.inci.iter()).chain(std::iter::once(&entry.key));
    let rows: Vec<_> = names
        .filter(|name| reference.materials_called(name).len() == 1)
        .map(|name| (material_synonym::synonym.eq(name.to_lowercase()), material_synonym::material_id.eq(id)))
        .collect();
    diesel::insert_into(material_synonym::table)
        .values(rows)
        .on_conflict_do_nothing()
        .execute(tx.conn())
        .await?;
    Ok(())
}
