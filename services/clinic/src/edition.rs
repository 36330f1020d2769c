//! Loading of an edition of the reference data.
//!
//! Adds missing materials, and adds a version to changed ones unless the clinic has revised them. Recomputes the
//! caution sets of the formulas concerned in the same transaction.

use std::borrow::Cow;
use std::collections::{BTreeSet, HashMap};

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use materia::{Materia, Material, Subject};
use schema::{material, material_version, reference_rule};
use serde::{Deserialize, Serialize};
use serde_json::Value;
use store::{Result, Tx, sql::lower};
use uuid::Uuid;

use crate::Clinic;
use crate::amendments::{self, Reach};
use ::materials::{self as materia_medica, Said, Standing};
use canonical::{self, Sha};

/// Loads the reference data and returns how many materials were added or got a new version.
///
/// # Errors
/// Returns the errors of the database.
pub async fn load(clinic: &Clinic) -> Result<usize> {
    clinic
        .store
        .run_unauthenticated(async |tx| {
            ::formulary::settle(tx).await?;
            let reference = tx.reference;
            let edition = reference.version.number.to_string();
            let mut changed = Vec::new();
            let mut written = 0;
            for entry in &reference.materials {
                let entry = &named_apart(tx, entry).await?;
                match load_one(tx, entry, &edition).await? {
                    Loaded::Known => {}
                    Loaded::Added | Loaded::Renamed => written += 1,
                    Loaded::Revised(id) => {
                        written += 1;
                        changed.push(id);
                    }
                }
            }
            names(tx, reference).await?;
            let mut reach = rules(tx, reference).await?;
            if !changed.is_empty() {
                reach.push(Reach::Materials(amendments::with_aliases(tx, &changed).await?));
            }
            amendments::reference_data(tx, &edition, &changed, &reach).await?;
            if reach.iter().any(|one| matches!(one, Reach::Calculations)) {
                amendments::calculations(tx).await?;
            }
            Ok(written)
        })
        .await
}

enum Loaded {
    Known,
    Added,
    /// Only its names changed, so no formula is affected.
    Renamed,
    Revised(Uuid),
}

/// A material whose name a material of the clinic already has gets a name that states its origin.
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
        .first(tx.conn())
        .await
        .optional()?;
    let Some((id, version)) = known else {
        materia_medica::add(tx, entry, Said::Reference(edition)).await?;
        return Ok(Loaded::Added);
    };
    let (had, facts, made_by): (Vec<u8>, Value, Option<Uuid>) = material_version::table
        .find((id, version))
        .select((material_version::digest, material_version::facts, material_version::created_by))
        .first(tx.conn())
        .await?;
    // A version entered by a person takes precedence over the reference data.
    if had == materia_medica::digest(entry)? || made_by.is_some() {
        return Ok(Loaded::Known);
    }
    let before = Standing { id, version, facts: entry.clone() };
    materia_medica::revise(tx, &before, entry, Said::Reference(edition)).await?;
    let mut renamed = facts;
    if let Some(facts) = renamed.as_object_mut() {
        facts.insert("synonyms".into(), serde_json::to_value(&entry.synonyms)?);
    }
    Ok(if renamed == serde_json::to_value(entry)? { Loaded::Renamed } else { Loaded::Revised(id) })
}

/// Updates the synonyms of the reference data. A name shared by several materials is no synonym, because the author
/// must choose one of them. Names that only an earlier edition gave are removed.
async fn names(tx: &mut Tx<'_>, reference: &Materia) -> Result<()> {
    let given = names_given(tx).await?;
    let by_clinic = names_by_merging(tx).await?;
    let mut lead_here = Vec::with_capacity(given.len());
    // Removes outdated names first, because a name can move from one material to another.
    for entry in &reference.materials {
        let Some((id, given)) = given.get(&entry.key) else { continue };
        let alone: Vec<String> = entry
            .synonyms
            .iter()
            .chain(&entry.inci)
            .chain(std::iter::once(&entry.key))
            .filter(|name| reference.materials_called(name).len() == 1)
            .map(|name| name.to_lowercase())
            .collect();
        let by_clinic = by_clinic.get(id);
        let keeps =
            |name: &String| alone.contains(name) || by_clinic.is_some_and(|names| names.contains(name));
        let gone: Vec<String> = given.iter().filter(|name| !keeps(name)).cloned().collect();
        materia_medica::no_synonyms(tx, *id, &gone).await?;
        lead_here.push((*id, alone));
    }
    for (id, alone) in lead_here {
        materia_medica::synonyms(tx, id, alone.into_iter()).await?;
    }
    Ok(())
}

/// The names in a version of the facts of a material.
#[derive(Deserialize)]
struct Names {
    key: String,
    #[serde(default)]
    inci: Option<String>,
    #[serde(default)]
    synonyms: Vec<String>,
}

impl Names {
    fn lowercase(facts: Value) -> Result<impl Iterator<Item = String>> {
        let Self { key, inci, synonyms } = serde_json::from_value(facts)?;
        Ok(synonyms.into_iter().chain(inci).chain(std::iter::once(key)).map(|name| name.to_lowercase()))
    }
}

/// The materials of the reference data by key, each with its names in all editions.
async fn names_given(tx: &mut Tx<'_>) -> Result<HashMap<String, (Uuid, BTreeSet<String>)>> {
    let rows: Vec<(Option<String>, Uuid, Value)> = material::table
        .inner_join(material_version::table.on(material_version::material_id.eq(material::id)))
        .filter(material::reference_key.is_not_null())
        .filter(material_version::created_by.is_null())
        .select((material::reference_key, material::id, material_version::facts))
        .load(tx.conn())
        .await?;
    let mut given = HashMap::<String, (Uuid, BTreeSet<String>)>::new();
    for (key, id, facts) in rows {
        let (_, names) = given.entry(key.unwrap_or_default()).or_insert_with(|| (id, BTreeSet::new()));
        names.extend(Names::lowercase(facts)?);
    }
    Ok(given)
}

/// The names that a material has because the clinic merged one of its own materials into it.
async fn names_by_merging(tx: &mut Tx<'_>) -> Result<HashMap<Uuid, BTreeSet<String>>> {
    let rows: Vec<(Option<Uuid>, Value)> = material::table
        .inner_join(material_version::table.on(material_version::material_id.eq(material::id)))
        .filter(material::merged_into.is_not_null())
        .select((material::merged_into, material_version::facts))
        .load(tx.conn())
        .await?;
    let mut all = HashMap::<Uuid, BTreeSet<String>>::new();
    for (into, facts) in rows {
        all.entry(into.unwrap_or_default()).or_default().extend(Names::lowercase(facts)?);
    }
    Ok(all)
}

/// Compares every rule with the digest stored at the last loading, stores the new digests, and returns the reach of the
/// changed rules.
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
    // The subject of a removed rule is no longer known, so every formula is recomputed.
    if !had.is_empty() {
        let gone: Vec<&String> = had.keys().collect();
        diesel::delete(reference_rule::table.filter(reference_rule::key.eq_any(gone)))
            .execute(tx.conn())
            .await?;
        reach.push(Reach::Everything);
    }
    Ok(reach)
}

/// Every rule of the reference data except the materials: its name, its digest and its reach.
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
    for (key, rule) in &reference.caution_rules {
        let thresholds: Vec<_> = reference.thresholds.iter().filter(|it| it.caution == *key).collect();
        let said = |cautions: &[materia::Caution]| cautions.iter().any(|caution| caution.key == *key);
        let kinds = reference.preparations.iter().filter(|kind| said(&kind.cautions));
        let routes = reference.routes.iter().filter(|route| said(&route.cautions));
        let carried = kinds
            .map(|kind| Reach::Preparation(kind.key.clone()))
            .chain(routes.map(|route| Reach::Route(route.key.clone())))
            .chain([of(&|material| said(&material.cautions)), Reach::Caution(key.clone())]);
        let digest = digest(&(rule, thresholds))?;
        all.extend(carried.enumerate().map(|(i, reach)| (format!("caution:{key}:{i}"), digest, reach)));
    }
    for stop in &reference.stops {
        let reaches =
            if stop.is_of_materials() { of(&|material| stop.concerns(material)) } else { Reach::Everything };
        all.push((format!("stop:{}", stop.key), digest(stop)?, reaches));
    }
    for kind in &reference.preparations {
        all.push((format!("preparation:{}", kind.key), digest(kind)?, Reach::Preparation(kind.key.clone())));
    }
    for route in &reference.routes {
        all.push((format!("route:{}", route.key), digest(route)?, Reach::Route(route.key.clone())));
    }
    let engine = canonical::digest([&::formulary::results::ENGINE.to_be_bytes()[..]]);
    all.push(("calculations".to_owned(), engine, Reach::Calculations));
    Ok(all)
}

fn digest(rule: &impl Serialize) -> Result<Sha> {
    Ok(canonical::digest([canonical::text(&serde_json::to_value(rule)?).as_bytes()]))
}

/// Every material, the clinic's own included: its ID, the material it was merged into or itself, and its current facts.
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

/// Whether a limit or an allergen concerns a material. A limit on an acid also concerns its salts.
fn holding<'r>(reference: &'r Materia, subject: &'r Subject) -> impl Fn(&Material) -> bool + 'r {
    move |material| match subject {
        Subject::Material(key) => material.key == *key,
        Subject::Species(key) => material.is_of_species(key),
        Subject::Genus(genus) => material.is_of_genus(genus),
        Subject::Substance(key) => material.constituents.iter().any(|held| {
            let acid = reference.substance(&held.substance).and_then(|it| it.as_acid.as_ref());
            held.substance == *key || acid.is_some_and(|acid| acid.acid == *key)
        }),
    }
}

/// The most revisions in one transaction.
const RESULTS: i64 = 50;

/// What was stored of frozen revisions that are older than stored results.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct OlderResults {
    /// How many results were stored.
    pub stored: usize,
    /// Frozen revisions that cannot be read.
    pub unreadable: Vec<Uuid>,
}

/// Stores the current result of every frozen revision that has none, so that a later version of the calculations does
/// not change its recipe. Stores nothing when called again. Revisions that cannot be read stop no other.
///
/// # Errors
/// Returns the errors of the database.
pub async fn keep_older_results(clinic: &Clinic) -> Result<OlderResults> {
    let (mut after, mut all) = (Uuid::nil(), OlderResults::default());
    loop {
        let step = async |tx: &mut Tx<'_>| ::formulary::results::keep_older(tx, after, RESULTS).await;
        let Some(older) = clinic.store.run_unauthenticated(step).await? else { return Ok(all) };
        after = older.last;
        all.stored += older.stored;
        all.unreadable.extend(older.unreadable);
    }
}
