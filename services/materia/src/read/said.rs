//! The files that say something of all materials that a target means: allergies, and evidence in pregnancy.

use super::Known;
use super::attach::Named;
use super::target::{Target, family_speaks_for};
use crate::caution::{Audience, Evidence, Finding, Origin};
use crate::error::Error;
use crate::material::{AllergyMembership, Material};
use crate::source::{Source, Status};
use crate::table::{Row, Sources, Table};

/// Materials that a target means belong to an allergy group.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct AllergyRule {
    group: String,
    target: Target,
    source: Source,
    status: Status,
}

pub(crate) fn allergies(text: &str, sources: &Sources, known: &Known) -> Result<Vec<AllergyRule>, Error> {
    let table = Table::read("allergies.csv", text, &["group", "target", "source", "place", "status"])?;
    table
        .rows()
        .map(|row| {
            let (source, status) = sources.of(row)?;
            let group = row.reference("group", &known.groups)?;
            Ok(AllergyRule { group, target: Target::one(row, "target", known)?, source, status })
        })
        .collect()
}

/// Adds the groups that the material's family and the rules put it in.
pub(crate) fn allergies_of<'r>(
    rules: impl IntoIterator<Item = &'r AllergyRule>,
    named: &Named<'_>,
    material: &mut Material,
) {
    let family = material.botanical.as_ref().map(|botanical| botanical.species.family.clone());
    if let Some(family) = family.filter(|_| family_speaks_for(material.kind)) {
        for group in named.groups.iter().filter(|group| group.family.as_ref() == Some(&family)) {
            join(material, &group.key, Origin::Family(family.clone()), &group.source, group.status);
        }
    }
    for rule in rules {
        if let Some(origin) = rule.target.origin(material, &|target| named.of(target)) {
            join(material, &rule.group, origin, &rule.source, rule.status);
        }
    }
}

fn join(material: &mut Material, group: &str, origin: Origin, source: &Source, status: Status) {
    if !material.is_in_allergy_group(group) {
        material.allergy_groups.push(AllergyMembership {
            group: group.to_owned(),
            origin,
            source: source.clone(),
            status,
        });
    }
}

/// What is known in pregnancy or while breast-feeding of the materials that a target means.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct EvidenceRule {
    target: Target,
    evidence: Evidence,
}

/// Reads the rules and says them of the reference data's own materials.
pub(crate) fn evidence(
    text: &str,
    sources: &Sources,
    known: &Known,
    materials: &mut [Material],
) -> Result<Vec<EvidenceRule>, Error> {
    let columns = &["target", "audience", "finding", "routes", "source", "place", "status"];
    let table = Table::read("evidence.csv", text, columns)?;
    let mut rules = Vec::new();
    for row in table.rows() {
        let (source, status) = sources.of(row)?;
        let evidence = Evidence {
            audience: audience(row)?,
            finding: row.parsed("finding")?,
            routes: row.references("routes", &known.routes)?,
            source,
            status,
        };
        let rule = EvidenceRule { target: Target::one(row, "target", known)?, evidence };
        for material in materials.iter_mut() {
            if !say(&rule, material) {
                return Err(row.refuse(
                    "target",
                    format!("an earlier row speaks of {:?} for the same people and route", material.key),
                    "Keep one of the two",
                ));
            }
        }
        rules.push(rule);
    }
    nothing_is_left_unsaid(materials)?;
    Ok(rules)
}

/// Says a rule of a material that it means; `false` when the same was said of it before, which then stands.
fn say(rule: &EvidenceRule, material: &mut Material) -> bool {
    if rule.target.origin(material, &|_| String::new()).is_none() {
        return true;
    }
    let said = material.evidence.iter().any(|earlier| speak_of_the_same(earlier, &rule.evidence));
    if !said {
        material.evidence.push(rule.evidence.clone());
    }
    !said
}

/// Adds what the rules say of a material and what was not said of it already. Where nothing is said for all routes,
/// that is said: silence could be read as safety.
pub(crate) fn evidence_of<'r>(rules: impl IntoIterator<Item = &'r EvidenceRule>, material: &mut Material) {
    for rule in rules {
        say(rule, material);
    }
    for audience in [Audience::Pregnant, Audience::BreastFeeding] {
        if !material.evidence.iter().any(|it| it.audience == audience && it.routes.is_empty()) {
            material.evidence.push(Evidence {
                audience,
                finding: Finding::NoData,
                routes: Vec::new(),
                source: material.source.clone(),
                status: material.status,
            });
        }
    }
}

impl AllergyRule {
    /// Whether it speaks of a single material, which then speaks for itself.
    pub(crate) const fn is_of_one(&self) -> bool {
        matches!(self.target, Target::Material(_))
    }
}

impl EvidenceRule {
    /// Whether it speaks of a single material, which then speaks for itself.
    pub(crate) const fn is_of_one(&self) -> bool {
        matches!(self.target, Target::Material(_))
    }
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
                    problem: format!("{:?} has no finding for {audience}", material.key),
                    cure: "Add a row without routes. If nothing is known, write the finding no-data"
                        .to_owned(),
                });
            }
        }
    }
    Ok(())
}
