//! Application of an amendment: the change itself, and its effects on formulas.

use ::formulary::change::{Change, ImportMaterials, ReviseMaterial};
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use materia::{Entry, Material};
use schema::{amendment, amendment_material, material};
use serde_json::json;
use store::{Error, NewEvent, Result, Tx};
use uuid::Uuid;
use wire::amendments::AmendmentKind;
use wire::ids::PersonId;
use wire::problem::FieldError;

use super::kept::AMENDMENT;
use super::reach::{self, Reach};
use ::materials::{Said, Standing};

/// Applies a change and recomputes the caution sets of the revisions concerned.
///
/// # Errors
/// Returns [`Error::Conflict`] or [`Error::Invalid`] if the subject has changed so that the change no longer applies.
pub(super) async fn apply(tx: &mut Tx<'_>, id: Uuid, change: &Change, by: PersonId) -> Result<()> {
    ::formulary::settle(tx).await?;
    let said = Said::Person(by, id);
    let mut touched = Vec::new();
    let reach = match change {
        Change::AddMaterial(entry) => {
            let facts = complete(tx, entry, None, "/change/add_material")?;
            touched.push(add(tx, &facts, said).await?);
            Vec::new()
        }
        Change::ReviseMaterial(revise) => {
            let (before, facts) = revised(tx, revise).await?;
            ::materials::revise(tx, &before, &facts, said).await?;
            names(tx, before.id, &facts).await?;
            touched.push(before.id);
            vec![Reach::Materials(with_aliases(tx, &touched).await?)]
        }
        Change::MergeMaterials(merge) => {
            let merged = ::materials::standing(tx, merge.merged).await?;
            let into = ::materials::standing(tx, merge.into).await?;
            // The clinic's cautions on either material apply to both after the merge.
            let reached = with_aliases(tx, &[merged.id, into.id]).await?;
            ::materials::merge(tx, &merged, &into, id).await?;
            touched.extend([merged.id, into.id]);
            vec![Reach::Materials(reached)]
        }
        Change::ImportMaterials(import) => {
            let mut revised = Vec::new();
            for (before, facts) in imported(tx, import).await? {
                match before {
                    None => touched.push(add(tx, &facts, said).await?),
                    Some(before) => {
                        ::materials::revise(tx, &before, &facts, said).await?;
                        names(tx, before.id, &facts).await?;
                        revised.push(before.id);
                    }
                }
            }
            touched.extend(&revised);
            vec![Reach::Materials(with_aliases(tx, &revised).await?)]
        }
        Change::AddCaution(caution) => {
            touched.extend(caution.on.material);
            let on = &caution.on;
            vec![match (on.material, &on.preparation, &on.route) {
                (Some(material), ..) => Reach::Materials(with_aliases(tx, &[material]).await?),
                (None, Some(kind), _) => Reach::Preparation(kind.clone()),
                (None, None, Some(route)) => Reach::Route(route.clone()),
                (None, None, None) => Reach::Everything,
            }]
        }
        Change::ChangeCaution(change) => vec![Reach::Caution(change.key.clone())],
    };
    touch(tx, id, &touched).await?;
    let revisions = reach::revisions(tx, &reach).await?;
    ::formulary::recompute_caution_sets(tx, id, &revisions).await?;
    tx.record(NewEvent::new("amendment", id, "in_force").keeps(&AMENDMENT, [id]));
    Ok(())
}

async fn touch(tx: &mut Tx<'_>, id: Uuid, touched: &[Uuid]) -> Result<()> {
    let rows: Vec<_> = touched
        .iter()
        .map(|material| {
            (amendment_material::amendment_id.eq(id), amendment_material::material_id.eq(*material))
        })
        .collect();
    if !rows.is_empty() {
        diesel::insert_into(amendment_material::table)
            .values(rows)
            .on_conflict_do_nothing()
            .execute(tx.conn())
            .await?;
    }
    Ok(())
}

async fn add(tx: &mut Tx<'_>, facts: &Material, said: Said<'_>) -> Result<Uuid> {
    let id = ::materials::add(tx, facts, said).await?;
    names(tx, id, facts).await?;
    Ok(id)
}

/// Adds the synonyms by which authors may name a material.
async fn names(tx: &mut Tx<'_>, id: Uuid, facts: &Material) -> Result<()> {
    let names = facts.synonyms.iter().chain(&facts.inci).map(|name| name.to_lowercase());
    ::materials::synonyms(tx, id, names.collect::<Vec<_>>().into_iter()).await
}

/// The given materials and those merged into them, which share their facts.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn with_aliases(tx: &mut Tx<'_>, ids: &[Uuid]) -> Result<Vec<Uuid>> {
    let mut all: Vec<Uuid> = material::table
        .filter(material::merged_into.eq_any(ids))
        .select(material::id)
        .load(tx.conn())
        .await?;
    all.extend(ids);
    Ok(all)
}

/// Completes a material by the rules of the reference data.
///
/// # Errors
/// Returns [`Error::Invalid`] with every refused field, below `pointer`.
pub(super) fn complete(
    tx: &Tx<'_>,
    entry: &Entry,
    before: Option<&Material>,
    pointer: &str,
) -> Result<Material> {
    tx.reference.complete(entry, before).map_err(|refusals| {
        Error::Invalid(
            refusals
                .into_iter()
                .map(|refusal| FieldError::new(format!("{pointer}{}", refusal.field), refusal.detail))
                .collect(),
        )
    })
}

/// A material before and after a revision.
///
/// # Errors
/// Returns [`Error::NotFound`] if there is no such material, [`Error::Conflict`] if it has another version than the
/// request states, and [`Error::Invalid`] with every refused field.
pub(super) async fn revised(tx: &mut Tx<'_>, revise: &ReviseMaterial) -> Result<(Standing, Material)> {
    let before = ::materials::standing(tx, revise.material).await?;
    if before.version.unsigned_abs() != revise.version {
        return Err(Error::Conflict(format!(
            "The material is now in version {}. Read its current entry and reapply your change.",
            before.version
        )));
    }
    let facts = complete(tx, &revise.entry, Some(&before.facts), "/change/revise_material/entry")?;
    Ok((before, facts))
}

/// The materials that a table adds (without a predecessor) or revises. Rows without a change are left out.
///
/// # Errors
/// Returns [`Error::Invalid`] with every refused row, and [`Error::Conflict`] if a material has changed since the
/// amendment was made.
pub(super) async fn imported(
    tx: &mut Tx<'_>,
    import: &ImportMaterials,
) -> Result<Vec<(Option<Standing>, Material)>> {
    const FIELD: &str = "/change/import_materials/csv";
    let refused = |lines: Vec<String>| {
        Error::Invalid(lines.into_iter().map(|line| FieldError::new(FIELD, line)).collect())
    };
    let rows = ::materials::read_table(&import.csv).map_err(refused)?;
    let names: Vec<&str> = rows.iter().map(|row| row.entry.name.as_str()).collect();
    let known = ::materials::resolve(tx, &names).await?;
    let (mut out, mut lines) = (Vec::new(), Vec::new());
    let mut seen: std::collections::HashMap<String, u64> = std::collections::HashMap::new();
    for (row, known) in rows.iter().zip(known) {
        if let Some(line) = seen.insert(row.entry.name.to_lowercase(), row.line) {
            lines.push(format!("line {}, name: Line {line} names the same material.", row.line));
            continue;
        }
        // A row named by a synonym of a material must not rename that material.
        let name = row.entry.name.trim().to_lowercase();
        let known = known.filter(|found| found.name.to_lowercase() == name);
        let before = match known {
            Some(found) => Some(::materials::standing(tx, found.id.0).await?),
            None if ::materials::is_taken(tx, &name).await? => {
                lines.push(format!(
                    "line {}, name: This material was merged into another. Omit the row.",
                    row.line
                ));
                continue;
            }
            None => None,
        };
        if let (Some(before), Some(read)) = (&before, &import.read_at)
            && read.get(&before.id) != Some(&before.version.unsigned_abs())
        {
            return Err(Error::Conflict(format!(
                "{:?} has changed since the table was read. Export the table again, reapply your changes and import it.",
                before.facts.name
            )));
        }
        match tx.reference.complete(&row.entry, before.as_ref().map(|before| &before.facts)) {
            Ok(facts) if before.as_ref().is_some_and(|before| before.facts.says_the_same_as(&facts)) => {}
            Ok(facts) => out.push((before, facts)),
            Err(refusals) => lines.extend(refusals.into_iter().map(|refusal| {
                format!("line {}, {}: {}", row.line, refusal.field.trim_start_matches('/'), refusal.detail)
            })),
        }
    }
    if !lines.is_empty() {
        return Err(refused(lines));
    }
    if out.is_empty() {
        return Err(Error::field(FIELD, "The table contains no change. Change at least one row."));
    }
    Ok(out)
}

/// Lists the frozen revisions whose results differ under a new version of the calculations, in an amendment without an
/// author.
///
/// # Errors
/// Returns [`Error::Internal`] if a stored result cannot be read, and the errors of the database.
pub(crate) async fn calculations(tx: &mut Tx<'_>) -> Result<()> {
    ::formulary::settle(tx).await?;
    let revisions = reach::revisions(tx, &[Reach::Everything]).await?;
    let differing = ::formulary::results::differing(tx, &revisions).await?;
    if differing.is_empty() {
        return Ok(());
    }
    let engine = ::formulary::results::ENGINE;
    let reason = format!("Version {engine} of the calculations is used from now on.");
    let id = insert_without_author(tx, AmendmentKind::Engine, reason).await?;
    ::formulary::results::list_differing(tx, id, &differing).await?;
    tx.record(NewEvent::new("amendment", id, "in_force").keeps(&AMENDMENT, [id]));
    Ok(())
}

async fn insert_without_author(tx: &mut Tx<'_>, kind: AmendmentKind, reason: String) -> Result<Uuid> {
    let id = tx.new_id();
    let now = tx.now();
    diesel::insert_into(amendment::table)
        .values((
            amendment::id.eq(id),
            amendment::kind.eq(kind.as_str()),
            amendment::state.eq("in_force"),
            amendment::change.eq(json!({})),
            amendment::reason.eq(reason),
            amendment::created_at.eq(now),
            amendment::decided_at.eq(now),
        ))
        .execute(tx.conn())
        .await?;
    Ok(id)
}

/// Recomputes the revisions that a new edition of the reference data concerns, in an amendment without an author.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn reference_data(
    tx: &mut Tx<'_>,
    edition: &str,
    materials: &[Uuid],
    reach: &[Reach],
) -> Result<()> {
    if reach.is_empty() {
        return Ok(());
    }
    ::formulary::settle(tx).await?;
    let revisions = reach::revisions(tx, reach).await?;
    if revisions.is_empty() {
        return Ok(());
    }
    let reason = format!("Edition {edition} of the reference data was loaded.");
    let id = insert_without_author(tx, AmendmentKind::ReferenceData, reason).await?;
    touch(tx, id, materials).await?;
    ::formulary::recompute_caution_sets(tx, id, &revisions).await?;
    tx.record(NewEvent::new("amendment", id, "in_force").keeps(&AMENDMENT, [id]));
    Ok(())
}
