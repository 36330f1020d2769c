//! Cautions, and how they reach the materials, preparation kinds and routes that carry them.

use super::{Known, caution_rule, target::Target};
use crate::caution::{Audience, Caution, Finding, Level, Origin};
use crate::error::Error;
use crate::material::{AllergyGroup, Material};
use crate::preparation::{Preparation, Route};
use crate::rule::{CautionRule, JointCaution};
use crate::source::{Source, Status};
use crate::substance::Substance;
use crate::table::{Sources, Table};
use std::collections::HashSet;

/// One row of `cautions.csv`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Written {
    key: String,
    level: Level,
    audiences: Vec<Audience>,
    rule: CautionRule,
    routes: Vec<String>,
    targets: Vec<Target>,
    text: String,
    source: Source,
    status: Status,
}

/// What the origins of cautions are called.
pub(crate) struct Named<'n> {
    pub(crate) groups: &'n [AllergyGroup],
    pub(crate) substances: &'n [Substance],
}

impl Named<'_> {
    /// The name of what a target speaks of, where an origin shows it.
    pub(crate) fn of(&self, target: &Target) -> String {
        match target {
            Target::Group(key) => self.groups.iter().find(|group| group.key == *key).map(|group| &group.name),
            Target::Substance(key, _) => self
                .substances
                .iter()
                .find(|substance| substance.key == *key)
                .map(|substance| &substance.name),
            _ => None,
        }
        .cloned()
        .unwrap_or_default()
    }
}

const COLUMNS: &[&str] = &[
    "key",
    "group",
    "stage",
    "level",
    "audiences",
    "regimes",
    "routes",
    "only_as",
    "targets",
    "amount",
    "replaces",
    "replaces_for_material",
    "text",
    "label",
    "source",
    "place",
    "status",
];

pub(crate) fn read(text: &str, sources: &Sources, known: &Known) -> Result<Vec<Written>, Error> {
    let table = Table::read("cautions.csv", text, COLUMNS)?;
    let mut taken = HashSet::new();
    table
        .rows()
        .map(|row| {
            let (source, status) = sources.of(row)?;
            row.text("audiences")?;
            let audiences: Vec<Audience> = row.parsed_list("audiences")?;
            for audience in &audiences {
                if let Audience::Allergy(group) = audience {
                    row.refers("audiences", group, &known.groups)?;
                }
            }
            let key = row.key("key", &mut taken)?;
            let targets = Target::list(row, "targets", known)?;
            let misnamed = |target: &Target| matches!(target, Target::Calculation(name) if *name != key);
            if targets.iter().any(misnamed) {
                return Err(row.refuse(
                    "targets",
                    "a calculation is named that is not the key",
                    format!("Write calculation:{key}; calculations ask for a caution by its key"),
                ));
            }
            let level = row.parsed("level")?;
            Ok(Written {
                rule: caution_rule::rule(row, &key, level, &audiences, known)?,
                key,
                level,
                audiences,
                routes: row.references("routes", &known.routes)?,
                targets,
                text: row.string("text")?,
                source,
                status,
            })
        })
        .collect()
}

impl Written {
    pub(crate) fn key(&self) -> &str {
        &self.key
    }

    pub(crate) const fn rule(&self) -> &CautionRule {
        &self.rule
    }

    pub(crate) const fn level(&self) -> Level {
        self.level
    }

    pub(crate) fn audiences(&self) -> &[Audience] {
        &self.audiences
    }

    /// Keys of the cautions that this one joins, if it does.
    pub(crate) fn joins(&self) -> Option<&[String]> {
        self.targets.iter().find_map(|target| match target {
            Target::Together(keys) => Some(keys.as_slice()),
            _ => None,
        })
    }

    fn carried(&self, origin: Origin) -> Caution {
        Caution {
            key: self.key.clone(),
            level: self.level,
            audiences: self.audiences.clone(),
            routes: self.routes.clone(),
            text: self.text.clone(),
            origin,
            source: self.source.clone(),
            status: self.status,
        }
    }
}

pub(crate) fn to_material(
    written: &[Written],
    named: &Named<'_>,
    known: &Known,
    material: &mut Material,
) -> Result<(), Error> {
    let names = |target: &Target| named.of(target);
    let mut cautions: Vec<Caution> = written
        .iter()
        .filter_map(|caution| {
            let origin = caution.targets.iter().find_map(|target| target.origin(material, &names))?;
            Some(caution.carried(origin))
        })
        .collect();
    for evidence in &material.evidence {
        if evidence.finding == Finding::OrdinaryUse {
            continue;
        }
        let target = Target::Evidence(evidence.audience.clone(), evidence.finding);
        let wording =
            written.iter().find(|caution| caution.targets.contains(&target)).ok_or_else(|| Error {
                file: "cautions.csv".to_owned(),
                line: None,
                field: Some("targets".to_owned()),
                problem: format!("no wording for evidence:{}:{}", evidence.audience, evidence.finding),
                cure: "Add a row with that target".to_owned(),
            })?;
        cautions.push(Caution {
            routes: routes_of_finding(evidence, material, known),
            source: evidence.source.clone(),
            status: evidence.status,
            ..wording.carried(Origin::Itself)
        });
    }
    cautions.append(&mut material.cautions);
    cautions.sort_by(|one, other| other.level.cmp(&one.level).then_with(|| one.key.cmp(&other.key)));
    material.cautions = cautions;
    Ok(())
}

/// A finding without routes is about every route for which there is no finding of its own.
fn routes_of_finding(of: &crate::caution::Evidence, material: &Material, known: &Known) -> Vec<String> {
    if !of.routes.is_empty() {
        return of.routes.clone();
    }
    let named: HashSet<&String> = material
        .evidence
        .iter()
        .filter(|other| other.audience == of.audience)
        .flat_map(|other| &other.routes)
        .collect();
    if named.is_empty() {
        return Vec::new();
    }
    let mut rest: Vec<String> =
        known.routes.keys.iter().filter(|route| !named.contains(route)).cloned().collect();
    rest.sort();
    rest
}

pub(crate) fn to_preparation(written: &[Written], preparation: &mut Preparation) {
    let target = Target::Preparation(preparation.key.clone());
    preparation.cautions = said_of(written, &target);
}

pub(crate) fn to_route(written: &[Written], route: &mut Route) {
    let target = Target::Route(route.key.clone());
    route.cautions = said_of(written, &target);
}

fn said_of(written: &[Written], target: &Target) -> Vec<Caution> {
    written
        .iter()
        .filter(|caution| caution.targets.contains(target))
        .map(|caution| caution.carried(Origin::Itself))
        .collect()
}

/// The cautions that say several others at once.
pub(crate) fn joint(written: &[Written]) -> Vec<JointCaution> {
    let of = |caution: &Written| {
        caution.joins().map(|of| JointCaution { caution: caution.carried(Origin::Itself), of: of.to_vec() })
    };
    written.iter().filter_map(of).collect()
}

/// The cautions that calculations raise.
pub(crate) fn raised(written: &[Written]) -> Vec<Caution> {
    let by_calculation =
        |caution: &&Written| caution.targets.iter().any(|target| matches!(target, Target::Calculation(_)));
    written.iter().filter(by_calculation).map(|caution| caution.carried(Origin::Itself)).collect()
}
