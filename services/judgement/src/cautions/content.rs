//! The cautions that a formula's author, kind and materials carry, at every level of nesting.

use std::borrow::Cow;

use galenics::interrupt;
use materia::{Group, Materia, Material, Stage};
use uuid::Uuid;
use wire::safety::CautionLevel;

use super::found::{At, Candidate, New, everyone, level, of_reference, said_by_clinic, text_version};
use crate::assembled::Assembled;
use crate::clinic_cautions::{Added, ClinicCautions, Target};
use crate::error::Result;
use crate::nested::Way;
use crate::written::{Ingredient, Written};

/// A caution of one formula of the graph, found at one of its lines or, at line 0, before them.
struct AtLine<'a> {
    line: usize,
    origin: String,
    caution: New<'a>,
    material: Option<Uuid>,
    kind: &'a str,
}

/// The carriers of cautions, at every level of one formula.
pub(super) struct Rules<'a> {
    pub(super) reference: &'a Materia,
    pub(super) whole: &'a Assembled,
    pub(super) route: &'a str,
    /// How the finished formula meets the body; `None` for a route that the reference data do not hold.
    pub(super) exposure: Option<materia::Exposure>,
    pub(super) regime: &'a str,
    /// Lowest intended age of the finished formula, in months. `None` means adults only.
    pub(super) youngest_months: Option<u32>,
    pub(super) own: &'a ClinicCautions,
}

impl<'a> Rules<'a> {
    /// Adds the clinic's cautions whose target satisfies `is_meant`.
    pub(super) fn of_clinic(
        &self,
        is_meant: impl Fn(&Target) -> bool,
        origin: &str,
        found: &mut Vec<Candidate<'a>>,
    ) {
        for added in self.own.added.iter().filter(|added| is_meant(&added.caution.on)) {
            let (new, at) = (said_by_clinic(added), At::default());
            found.push(Candidate { new, origin: origin.to_owned(), at });
        }
    }

    /// Adds the cautions of what is in the formula at every level, in the order of its lines from top to bottom: the order
    /// decides which source is named and how origins and audiences are listed.
    pub(super) fn of_content(&self, written: &'a Written, found: &mut Vec<Candidate<'a>>) -> Result<()> {
        let mut ways = self.whole.nested.ways(written);
        let outermost = (vec![Way::default()], self.of_formula(written)?);
        let mut looked_at = vec![outermost];
        for (id, nested) in self.whole.nested.outermost_first() {
            looked_at.push((ways.remove(&id).unwrap_or_default(), self.of_formula(nested)?));
        }
        let mut places: Vec<(&[usize], &Way<'_>, &AtLine<'_>)> = looked_at
            .iter()
            .flat_map(|(ways, cautions)| ways.iter().map(move |way| (way, cautions)))
            .flat_map(|(way, cautions)| cautions.iter().map(move |at| (&*way.lines, way, at)))
            .collect();
        places.sort_by(|(a, _, at_a), (b, _, at_b)| {
            a.iter().chain([&at_a.line]).cmp(b.iter().chain([&at_b.line]))
        });
        for (_, way, at) in places {
            interrupt::visit()?;
            let origin: Vec<&str> = way.titles.iter().copied().chain([&*at.origin]).collect();
            found.push(Candidate {
                new: at.caution.clone(),
                origin: origin.join(" > "),
                at: At { material: at.material, kind: Some(at.kind), nested: way.titles.last().copied() },
            });
        }
        Ok(())
    }

    /// The cautions of one formula: its author's, those of its kind, and those of the materials on its own lines.
    fn of_formula(&self, written: &'a Written) -> Result<Vec<AtLine<'a>>> {
        let mut all = Vec::new();
        let kind = written.preparation.as_str();
        let mut before = |origin: &str, caution| {
            all.push(AtLine { line: 0, origin: origin.to_owned(), caution, material: None, kind });
        };
        for own in &written.content.cautions {
            // The key comes from the text, so that equal texts in nested formulas are one caution.
            let caution = New {
                key: format!("entered-{:08x}", text_version(own.text.trim())).into(),
                level: own.level.into(),
                text: own.text.trim().into(),
                audiences: if own.audiences.is_empty() {
                    everyone().to_vec().into()
                } else {
                    Cow::Borrowed(&own.audiences)
                },
                source: "the formula's author",
                status: "entered by the clinic",
                stated: own.stage.map(|stage| stage.group(own.level, own.audiences.is_empty())),
            };
            before("this formula", caution);
        }
        let of_its_kind = self.reference.preparations.iter().find(|kind| kind.key == written.preparation);
        if let Some(kind) = of_its_kind {
            for caution in kind.cautions.iter().filter(|caution| caution.applies_to_route(self.route)) {
                before(&format!("every {}", kind.name), of_reference(caution));
            }
        }
        let of_kind = |added: &&Added| added.caution.on.preparation.as_ref() == Some(&written.preparation);
        for added in self.own.added.iter().filter(of_kind) {
            before("its kind of preparation", said_by_clinic(added));
        }
        for (line, ingredient) in written.ingredients.iter().flatten().enumerate() {
            interrupt::visit()?;
            let Ingredient::Material { id, version, name } = ingredient else { continue };
            let Some(material) = self.whole.materials.get(&(*id, *version)) else { continue };
            let mut add = |origin: String, caution| {
                all.push(AtLine { line: line + 1, origin, caution, material: Some(*id), kind });
            };
            self.of_material(material, name, &written.preparation, &mut add);
            for added in self.own.added.iter().filter(|added| added.materials.contains(id)) {
                add(name.clone(), said_by_clinic(added));
            }
        }
        Ok(all)
    }

    /// The cautions of the reference data on a material.
    fn of_material(
        &self,
        material: &'a Material,
        name: &str,
        preparation: &str,
        add: &mut impl FnMut(String, New<'a>),
    ) {
        for caution in material.cautions.iter().filter(|caution| caution.applies_to_route(self.route)) {
            let origin = match &caution.origin {
                materia::Origin::Itself => name.to_owned(),
                other => format!("{name} > {other}"),
            };
            add(origin, of_reference(caution));
        }
        let at = materia::Situation {
            preparation,
            route: self.route,
            material: Some(material),
            youngest_months: self.youngest_months,
        };
        let called = materia::Called::of(material);
        for stop in self.reference.stops.iter().filter(|stop| stop.applies_to(&at, Some(&called))) {
            let caution = New {
                key: Cow::Borrowed(&stop.key),
                level: level(stop.level),
                text: Cow::Borrowed(&stop.text),
                audiences: everyone().to_vec().into(),
                source: &stop.source.text,
                status: stop.status.word(),
                stated: Some((Group::MustNot, Stage::Making)),
            };
            add(name.to_owned(), caution);
        }
        for prohibition in &material.prohibited_in {
            add(name.to_owned(), self.prohibited(material, prohibition));
        }
    }

    fn prohibited(&self, material: &Material, prohibition: &'a materia::Prohibition) -> New<'a> {
        let regime = prohibition.regime.to_string();
        // A prohibition below an age stops only a formula that is intended for that age.
        let meant = match &prohibition.audience {
            materia::Audience::Everyone => true,
            audience => self.youngest_months.is_some_and(|youngest| audience.includes_age(youngest)),
        };
        let by_route = matches!(prohibition.exposure, materia::Exposure::Any)
            || self.exposure.is_some_and(|exposure| exposure == prohibition.exposure);
        let level = if !meant || !by_route {
            CautionLevel::Note
        } else if regime.replace('-', "_") == self.regime {
            CautionLevel::Stop
        } else if self.regime == "teaching_only" {
            CautionLevel::Caution
        } else {
            CautionLevel::Note
        };
        let text = format!(
            "{} is prohibited in {} products{} in {} ({}). Local law and licensed practice decide.",
            capitalised(&material.name),
            regime.replace('-', " "),
            for_age(&prohibition.audience),
            prohibition.jurisdiction,
            prohibition.source.text,
        );
        New {
            key: format!("prohibited-{}", prohibition.key).into(),
            level,
            text: text.into(),
            audiences: vec![prohibition.audience.to_string()].into(),
            source: &prohibition.source.text,
            status: prohibition.status.word(),
            stated: Some(if level == CautionLevel::Stop {
                (Group::MustNot, Stage::Making)
            } else {
                (Group::ForTheMaker, Stage::Making)
            }),
        }
    }
}

/// The age group of a prohibition in words; empty if it applies to everybody.
fn for_age(audience: &materia::Audience) -> String {
    match audience {
        materia::Audience::UnderMonths(months) if months % 12 == 0 => {
            format!(" for anyone under {} years", months / 12)
        }
        materia::Audience::UnderMonths(months) => format!(" for anyone under {months} months"),
        _ => String::new(),
    }
}

fn capitalised(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map(|first| first.to_uppercase().chain(chars).collect()).unwrap_or_default()
}
