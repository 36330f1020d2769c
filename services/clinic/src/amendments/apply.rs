//! Bringing an amendment into force: the change itself, and what it means for formulas.

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
use ::materials::{self, Said, Standing};

/// Brings a change into force and renews what it reaches.
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
            // What the clinic says of either it says of both from now on.
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

/// Lets an author write its other names.
async fn names(tx: &mut Tx<'_>, id: Uuid, facts: &Material) -> Result<()> {
    let names = facts.synonyms.iter().chain(&facts.inci).map(|name| name.to_lowercase());
    ::materials::synonyms(tx, id, names.collect::<Vec<_>>().into_iter()).await
}

/// Materials with everything that was merged into them: what names an alias has the other's facts.
pub(crate) async fn with_aliases(tx: &mut Tx<'_>, ids: &[Uuid]) -> Result<Vec<Uuid>> {
    let mut all: Vec<Uuid> = material::table
        .filter(material::merged_into.eq_any(ids))
        .select(material::id)
        .load(tx.conn())
        .await?;
    all.extend(ids);
    Ok(all)
}

/// Makes a material whole by the reference data's rules.
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

/// The material as it stands and as it is to be.
pub(super) async fn revised(tx: &mut Tx<'_>, revise: &ReviseMaterial) -> Result<(Standing, Material)> {
    let before = ::materials::standing(tx, revise.material).await?;
    if before.version.unsigned_abs() != revise.version {
        return Err(Error::Conflict(format!(
            "the material is in version {} by now: read its entry again and apply the change to that",
            before.version
        )));
    }
    let facts = complete(tx, &revise.entry, Some(&before.facts), "/change/revise_material/entry")?;
    Ok((before, facts))
}

/// Every row of a table as a material to be added (nothing before) or revised; rows that change nothing are left out.
///
/// # Errors
/// Every row that was not accepted, by line and reason.
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
            lines.push(format!("line {}, name: line {line} is of the same material", row.line));
            continue;
        }
        // A synonym is not the name: a row that has one as its name would rename what it means.
        let name = row.entry.name.trim().to_lowercase();
        let known = known.filter(|found| found.name.to_lowercase() == name);
        let before = match known {
            Some(found) => Some(::materials::standing(tx, found.id.0).await?),
            None if ::materials::is_taken(tx, &name).await? => {
                lines.push(format!(
                    "line {}, name: this material was merged into another: leave the row out",
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
                "{:?} has changed since the table was read: export it again and import that",
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
        return Err(Error::field(FIELD, "every row is already as it stands there: nothing to import"));
    }
    Ok(out)
}

/// What a new edition of the reference data means for formulas: an amendment that nobody made.
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
    let id = tx.new_id();
    let now = tx.now;
    diesel::insert_into(amendment::table)
        .values((
            amendment::id.eq(id),
            amendment::kind.eq(AmendmentKind::ReferenceData.as_str()),
            amendment::state.eq("in_force"),
            amendment::change.eq(json!({})),
            amendment::reason.eq(format!("Edition {edition} of the reference data was loaded.")),
            amendment::created_at.eq(now),
            amendment::decided_at.eq(now),
        ))
        .execute(tx.conn())
        .await?;
    touch(tx, id, materials).await?;
    ::formulary::recompute_caution_sets(tx, id, &revisions).await?;
    tx.record(NewEvent::new("amendment", id, "in_force").keeps(&AMENDMENT, [id]));
    Ok(())
}
