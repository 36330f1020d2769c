//! The files that say something of all materials that a target means: allergies, and evidence in pregnancy.

use super::Known;
use super::attach::Named;
use super::target::{Target, family_speaks_for};
use crate::caution::{Audience, Evidence, Origin};
use crate::error::Error;
use crate::material::{AllergyMembership, Material};
use crate::table::{Row, Sources, Table};

pub(crate) fn allergies(
    text: &str,
    sources: &Sources,
    known: &Known,
    named: &Named<'_>,
    materials: &mut [Material],
) -> Result<(), Error> {
    for material in materials.iter_mut().filter(|material| family_speaks_for(material.kind)) {
        let Some(botanical) = &material.botanical else { continue };
        let family = &botanical.species.family;
        for group in named.groups.iter().filter(|group| group.family.as_ref() == Some(family)) {
            material.allergy_groups.push(AllergyMembership {
                group: group.key.clone(),
                origin: Origin::Family(family.clone()),
                source: group.source.clone(),
                status: group.status,
            });
        }
    }
    let table = Table::read("allergies.csv", text, &["group", "target", "source", "place", "status"])?;
    for row in table.rows() {
        let (source, status) = sources.of(row)?;
        let group = row.reference("group", &known.groups)?;
        let target = Target::one(row, "target", known)?;
        for material in materials.iter_mut() {
            if let Some(origin) = target.origin(material, &|target| named.of(target))
                && !material.is_in_allergy_group(&group)
            {
                material.allergy_groups.push(AllergyMembership {
                    group: group.clone(),
                    origin,
                    source: source.clone(),
                    status,
                });
            }
        }
    }
    Ok(())
}

pub(crate) fn evidence(
    text: &str,
    sources: &Sources,
    known: &Known,
    materials: &mut [Material],
) -> Result<(), Error> {
    let columns = &["target", "audience", "finding", "routes", "source", "place", "status"];
    let table = Table::read("evidence.csv", text, columns)?;
    for row in table.rows() {
        let (source, status) = sources.of(row)?;
        let evidence = Evidence {
            audience: audience(row)?,
            finding: row.parsed("finding")?,
            routes: row.references("routes", &known.routes)?,
            source,
            status,
        };
        let target = Target::one(row, "target", known)?;
        for material in materials.iter_mut() {
            if target.origin(material, &|_| String::new()).is_none() {
                continue;
            }
            if material.evidence.iter().any(|earlier| speak_of_the_same(earlier, &evidence)) {
                return Err(row.refuse(
                    "target",
                    format!("an earlier row speaks of {:?} for the same people and route", material.key),
                    "Keep one of the two",
                ));
            }
            material.evidence.push(evidence.clone());
        }
    }
    nothing_is_left_unsaid(materials)
}

fn audience(row: Row<'_>) -> Result<Audience, Error> {
    let audience: Audience = row.parsed("audience")?;
    if matches!(audience, Audience::Pregnant | Audience::BreastFeeding) {
        return Ok(audience);
    }
    Err(row.refuse(
        "audience",
        "findings are about pregnancy and breast-feeding only",
        "Write pregnant or breast-feeding; every other audience belongs in cautions.csv",
    ))
}

fn speak_of_the_same(one: &Evidence, other: &Evidence) -> bool {
    one.audience == other.audience
        && (one.routes == other.routes || one.routes.iter().any(|route| other.routes.contains(route)))
}

/// Silence could be read as safety, so that each material must say something for both audiences.
fn nothing_is_left_unsaid(materials: &[Material]) -> Result<(), Error> {
    for material in materials {
        for audience in [Audience::Pregnant, Audience::BreastFeeding] {
            let said = |found: &Evidence| found.audience == audience && found.routes.is_empty();
            if !material.evidence.iter().any(said) {
                return Err(Error {
                    file: "evidence.csv".to_owned(),
                    line: None,
                    field: Some("target".to_owned()),
                    problem: format!("nothing is said of {:?} for {audience}", material.key),
                    cure: "Add a row without routes; where nothing is known the finding is no-data"
                        .to_owned(),
                });
            }
        }
    }
    Ok(())
}
