//! Loading the reference data: what is missing is added, what has changed becomes a new version, and what the
//! clinic itself changed stays. What that means for formulas is worked out in the same transaction.

use std::borrow::Cow;
use std::collections::HashMap;

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use materia::{Materia, Material, Subject};
use schema::{material, material_version, reference_rule};
use serde::Serialize;
use serde_json::Value;
use uuid::Uuid;

use super::store::{self, Said, Standing};
use crate::amendments::{self, Reach};
use crate::canonical::{self, Sha};
use crate::error::Result;
use crate::sql::lower;
use crate::tx::{Clinic, Tx};

/// Loads the reference data; says how many materials were added or got a new version.
///
/// # Errors
/// When the database cannot be written.
pub async fn load(clinic: &Clinic) -> Result<usize> {
    clinic
        .unclaimed(async |tx| {
            let reference = tx.reference;
            let edition = reference.version.number.to_string();
            let mut changed = Vec::new();
            let mut written = 0;
            for entry in &reference.materials {
                let entry = &named_apart(tx, entry).await?;
                match load_one(tx, entry, &edition).await? {
                    Loaded::Known => {}
                    Loaded::Added => written += 1,
                    Loaded::Revised(id) => {
                        written += 1;
                        changed.push(id);
                    }
                }
            }
            for entry in &reference.materials {
                synonyms(tx, reference, entry).await?;
            }
            let mut reach = rules(tx, reference).await?;
            if !changed.is_empty() {
                reach.push(Reach::Materials(amendments::with_aliases(tx, &changed).await?));
            }
            amendments::reference_data(tx, &edition, &changed, &reach).await?;
            Ok(written)
        })
        .await
}

enum Loaded {
    Known,
    Added,
    Revised(Uuid),
}

/// A material whose name the clinic has given to one of its own goes by a name that says where it comes from.
async fn named_apart<'m>(tx: &mut Tx<'_>, entry: &'m Material) -> Result<Cow<'m, Material>> {
    let clinics = material::table
        .filter(lower(material::name).eq(entry.name.to_lowercase()))
        .filter(material::reference_key.is_distinct_from(&entry.key));
    if !diesel::select(diesel::dsl::exists(clinics)).get_result::<bool>(tx.conn()).await? {
        return Ok(Cow::Borrowed(entry));
    }
    let mut apart = entry.clone();
    apart.name = format!("{} (reference data)", entry.name);
    Ok(Cow::Owned(apart))
}

async fn load_one(tx: &mut Tx<'_>, entry: &Material, edition: &str) -> Result<Loaded> {
    let known: Option<(Uuid, i32)> = material::table
        .filter(material::reference_key.eq(&entry.key))
        .select((material::id, material::current_version))
        .for_update()
        .first(tx.conn())
        .await
        .optional()?;
    let Some((id, version)) = known else {
        store::add(tx, entry, Said::Reference(edition)).await?;
        return Ok(Loaded::Added);
    };
    let (had, made_by): (Vec<u8>, Option<Uuid>) = material_version::table
        .find((id, version))
        .select((material_version::digest, material_version::made_by))
        .first(tx.conn())
        .await?;
    // A version that a person made is the clinic's own word on the material.
    if had == store::digest(entry)? || made_by.is_some() {
        return Ok(Loaded::Known);
    }
    let before = Standing { id, version, facts: entry.clone() };
    store::revise(tx, &before, entry, Said::Reference(edition)).await?;
    Ok(Loaded::Revised(id))
}

/// A synonym that leads to more than one material leads to none: the author must say which is meant. So does one that
/// an earlier edition gave and this one does not, unless the clinic itself has a word on the material.
async fn synonyms(tx: &mut Tx<'_>, reference: &Materia, entry: &Material) -> Result<()> {
    let (id, merged_into, made_by): (Uuid, Option<Uuid>, Option<Uuid>) = material::table
        .inner_join(
            material_version::table.on(material_version::material_id
                .eq(material::id)
                .and(material_version::version.eq(material::current_version))),
        )
        .filter(material::reference_key.eq(&entry.key))
        .select((material::id, material::merged_into, material_version::made_by))
        .first(tx.conn())
        .await?;
    let names: Vec<String> = entry
        .synonyms
        .iter()
        .chain(&entry.inci)
        .chain(std::iter::once(&entry.key))
        .filter(|name| reference.materials_called(name).len() == 1)
        .map(|name| name.to_lowercase())
        .collect();
    if let Some(botanical) = &entry.botanical
        && merged_into.is_none()
        && made_by.is_none()
    {
        let given = botanical.species.common_names.iter().map(|name| name.to_lowercase());
        let gone: Vec<String> = given.filter(|name| !names.contains(name)).collect();
        store::no_synonyms(tx, id, &gone).await?;
    }
    store::synonyms(tx, merged_into.unwrap_or(id), names.into_iter()).await
}

/// Compares every rule with the digest that it was last loaded with, keeps the new one, and says whom the changed ones
/// reach.
async fn rules(tx: &mut Tx<'_>, reference: &Materia) -> Result<Vec<Reach>> {
    let mut had: HashMap<String, Vec<u8>> = reference_rule::table
        .select((reference_rule::key, reference_rule::digest))
        .load::<(String, Vec<u8>)>(tx.conn())
        .await?
        .into_iter()
        .collect();
    let mut reach = Vec::new();
    for (key, digest, reaches) in every_rule(tx, reference).await? {
        if had.remove(&key).is_some_and(|before| before == digest) {
            continue;
        }
        diesel::insert_into(reference_rule::table)
            .values((reference_rule::key.eq(&key), reference_rule::digest.eq(digest.to_vec())))
            .on_conflict(reference_rule::key)
            .do_update()
            .set(reference_rule::digest.eq(digest.to_vec()))
            .execute(tx.conn())
            .await?;
        reach.push(reaches);
    }
    // What a rule that is no longer there was about is not known any more.
    if !had.is_empty() {
        let gone: Vec<&String> = had.keys().collect();
        diesel::delete(reference_rule::table.filter(reference_rule::key.eq_any(gone)))
            .execute(tx.conn())
            .await?;
        reach.push(Reach::Everything);
    }
    Ok(reach)
}

/// Every rule of the reference data beside the materials themselves: its name, its digest, and what it reaches.
async fn every_rule(tx: &mut Tx<'_>, reference: &Materia) -> Result<Vec<(String, Sha, Reach)>> {
    let standing = standing(tx).await?;
    let of = |is: &dyn Fn(&Material) -> bool| {
        let meant = standing
            .iter()
            .filter(|(_, into, _)| standing.iter().any(|(id, _, facts)| *id == *into && is(facts)));
        Reach::Materials(meant.map(|(id, ..)| *id).collect())
    };
    let mut all = Vec::new();
    for limit in &reference.limits {
        let key = format!("limit:{}", limit.key);
        all.push((key, digest(limit)?, of(&holding(reference, &limit.subject))));
    }
    for (i, allergen) in reference.allergens.iter().enumerate() {
        let key = format!("allergen:{}:{i}", allergen.regime);
        all.push((key, digest(allergen)?, of(&holding(reference, &allergen.subject))));
    }
    for raised in &reference.raised {
        all.push((format!("raised:{}", raised.key), digest(raised)?, Reach::Caution(raised.key.clone())));
    }
    for stop in &reference.stops {
        let reaches = match stop.materials.as_slice() {
            [] => Reach::Everything,
            keys => of(&|material| keys.contains(&material.key)),
        };
        all.push((format!("stop:{}", stop.key), digest(stop)?, reaches));
    }
    for kind in &reference.preparations {
        all.push((format!("preparation:{}", kind.key), digest(kind)?, Reach::Preparation(kind.key.clone())));
    }
    for route in &reference.routes {
        all.push((format!("route:{}", route.key), digest(route)?, Reach::Route(route.key.clone())));
    }
    Ok(all)
}

fn digest(rule: &impl Serialize) -> Result<Sha> {
    Ok(canonical::digest([canonical::text(&serde_json::to_value(rule)?).as_bytes()]))
}

/// Every material as it stands, the clinic's own too: its id, the material whose facts it has, and its facts.
async fn standing(tx: &mut Tx<'_>) -> Result<Vec<(Uuid, Uuid, Material)>> {
    let rows: Vec<(Uuid, Option<Uuid>, Value)> = material::table
        .inner_join(
            material_version::table.on(material_version::material_id
                .eq(material::id)
                .and(material_version::version.eq(material::current_version))),
        )
        .select((material::id, material::merged_into, material_version::facts))
        .load(tx.conn())
        .await?;
    rows.into_iter()
        .map(|(id, into, facts)| Ok((id, into.unwrap_or(id), serde_json::from_value(facts)?)))
        .collect()
}

/// Whether a limit or an allergen is about a material. A limit on an acid also counts its salts.
fn holding<'r>(reference: &'r Materia, subject: &'r Subject) -> impl Fn(&Material) -> bool + 'r {
    move |material| match subject {
        Subject::Material(key) => material.key == *key,
        Subject::Species(key) => material.botanical.as_ref().is_some_and(|it| it.species.key == *key),
        Subject::Substance(key) => material.constituents.iter().any(|held| {
            let acid = reference.substance(&held.substance).and_then(|it| it.as_acid.as_ref());
            held.substance == *key || acid.is_some_and(|acid| acid.acid == *key)
        }),
    }
}
