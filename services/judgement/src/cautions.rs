//! The caution set of a formula, computed from its content at every level of nesting.
//!
//! Sources: the reference data, the calculations, the formula's author and the clinic's amendments. Acknowledgements
//! refer to the digest of the set, so keys, texts and levels must not change without a change of their source. Never
//! here: an amount of the formula in a caution.

use std::collections::BTreeMap;

use galenics::Decimal;
use galenics::emulsion::Remark;
use galenics::limits::Verdict;
use materia::{Level, Materia, Material};
use uuid::Uuid;
use wire::safety::{Caution, CautionLevel};

use crate::assembled::Assembled;
use crate::assessment::Assessment;
use crate::clinic_cautions::{self, Added, ClinicCautions, Target};
use crate::limits::LimitAssessment;
use crate::written::{Ingredient, Written};
use canonical::{self, Sha};

/// A caution of a set with its rule. One rule can give several cautions, whose texts differ by material.
pub struct Counted {
    /// Key of the rule that raised the caution.
    pub rule: String,
    /// The caution, at the level that the clinic gave to its rule.
    pub caution: Caution,
}

/// Cautions by key and text, each with every origin that it was found at.
#[derive(Default)]
struct Found(BTreeMap<(String, String), Caution>);

impl Found {
    fn add(&mut self, new: New<'_>, origin: String) {
        let caution = self.0.entry((new.key.to_owned(), new.text.to_owned())).or_insert_with(|| Caution {
            key: new.key.to_owned(),
            text_version: text_version(new.text),
            level: new.level,
            language: "en".into(),
            text: new.text.to_owned(),
            audiences: Vec::new(),
            source: new.source.to_owned(),
            status: new.status.replace('_', " "),
            origins: Vec::new(),
            changed: None,
        });
        caution.level = caution.level.max(new.level);
        for audience in new.audiences {
            if !caution.audiences.contains(audience) {
                caution.audiences.push(audience.clone());
            }
        }
        if !caution.origins.contains(&origin) {
            caution.origins.push(origin);
        }
    }
}

/// A caution found at one origin.
struct New<'a> {
    key: &'a str,
    level: CautionLevel,
    text: &'a str,
    audiences: &'a [String],
    source: &'a str,
    status: &'a str,
}

/// The audience of a caution that names none.
fn everyone() -> [String; 1] {
    [materia::Audience::Everyone.to_string()]
}

/// The version of a caution's text: the first 31 bits of its digest, so that it changes exactly when the text does.
fn text_version(text: &str) -> u32 {
    let digest = canonical::digest([text.as_bytes()]);
    u32::from_be_bytes(digest.first_chunk().copied().unwrap_or_default()) >> 1
}

/// Every caution of a formula, the strongest first, with the clinic's amendments `own` applied.
///
/// Includes those of the author, the materials, the kinds of preparation and the route, the stops, the prohibitions
/// under its regime, and those that the calculations raise. Each stays in the set when its level is lowered.
#[must_use]
pub fn cautions(
    reference: &Materia,
    written: &Written,
    whole: &Assembled,
    judged: &Assessment,
    own: &ClinicCautions,
) -> Vec<Counted> {
    let mut found = Found::default();
    if !whole.worked_out
        && let Some(caution) = reference.raised("composition-unknown")
    {
        let why = "calculated: it cannot be worked out with what is known of its materials now";
        add_reference(&mut found, caution, why.to_owned());
    }
    let walk = Walk {
        reference,
        whole,
        route: &written.route,
        regime: written.content.regime.as_str(),
        youngest_months: written.youngest_months(),
        own,
    };
    walk.formula(written, &[], &mut found);
    walk.of_clinic(|on| on.route.as_ref() == Some(&written.route), "its route", &mut found);
    walk.of_clinic(|on| *on == Target::default(), "every formula", &mut found);
    for route in reference.routes.iter().filter(|route| route.key == written.route) {
        for caution in &route.cautions {
            add_reference(&mut found, caution, format!("used {}", route.name));
        }
    }
    raised(reference, judged, &mut found);
    let mut all: Vec<Counted> =
        found.0.into_values().map(|caution| Counted { rule: caution.key.clone(), caution }).collect();
    for counted in &mut all {
        own.apply(&counted.rule, &mut counted.caution);
    }
    unique_keys(&mut all);
    all.sort_by(|a, b| b.caution.level.cmp(&a.caution.level).then_with(|| a.caution.key.cmp(&b.caution.key)));
    all
}

/// Share of a limit from which a caution demands exact weighing. Common practice, no source.
const NEARLY: Decimal = Decimal::from_parts(9, 0, 0, false, 1);
/// Ethanol by volume from which a caution covers a small child's skin. Common practice, no source.
const MATTERS: Decimal = Decimal::from_parts(5, 0, 0, false, 2);
/// Ethanol by volume from which the product counts as flammable. Common practice, no source.
const BURNS: Decimal = Decimal::from_parts(20, 0, 0, false, 2);

/// Adds the cautions that the calculations raise. Their texts come from the reference data and hold no figure of the
/// formula.
fn raised(reference: &Materia, judged: &Assessment, found: &mut Found) {
    let mut raise = |key: &str, why: String| {
        if let Some(caution) = reference.raised(key) {
            add_reference(found, caution, format!("calculated: {why}"));
        }
    };
    if judged.watery && !judged.preservation.preserved {
        raise("unpreserved-watery", "nothing in the watery phase is shown to preserve it".into());
    }
    let remarks = judged.emulsion.iter().flat_map(|emulsion| &emulsion.report.advice);
    if remarks.map(|advice| advice.remark).any(|remark| remark == Remark::BeeswaxAlone) {
        raise("wax-only-emulsion", "wax without alkali or emulsifier".into());
    }
    if let Some(alcohol) = judged.alcohol.by_volume.value() {
        if alcohol >= MATTERS {
            raise("alcohol-on-childs-skin", "alcohol by volume".into());
        }
        if alcohol >= BURNS {
            raise("flammable", "alcohol by volume".into());
        }
    }
    let nearly =
        |of: Option<&galenics::Figure>| of.and_then(galenics::Figure::value).is_some_and(|of| of >= NEARLY);
    let on = |limit: &LimitAssessment| {
        format!("limit on {} ({}, {})", limit.subject, limit.jurisdiction, limit.force)
    };
    // The lots are not known before the formula is made, so their assays are not either.
    let untested = |limit: &&LimitAssessment| limit.daily && limit.verdict == Verdict::Unknown;
    for limit in judged.limits.iter().filter(untested) {
        raise("untested-daily-limit", on(limit));
    }
    let of_limits = judged
        .limits
        .iter()
        .filter(|limit| !untested(limit))
        .map(|limit| (limit.verdict, nearly(limit.of_limit.as_ref()), on(limit)));
    // Each substance can comply while their sum exceeds the limit on the shared effect.
    let of_groups = judged
        .groups
        .iter()
        .map(|group| (group.verdict, nearly(Some(&group.used)), format!("{} limits together", group.group)));
    for (verdict, nearly, on) in of_limits.chain(of_groups) {
        match verdict {
            Verdict::Prohibited => raise("prohibited-in-regime", on),
            Verdict::Exceeded => raise("limit-exceeded", on),
            Verdict::Unknown => raise("composition-unknown", on),
            Verdict::Within if nearly => raise("limit-nearly", on),
            Verdict::Within => {}
        }
    }
    for allergen in judged.allergens.iter().filter(|allergen| allergen.declare != Some(false)) {
        raise("allergens-to-declare", allergen.label_name.to_string());
    }
}

/// Makes keys unique: a rule with several texts gets one key for each text after the first.
fn unique_keys(all: &mut [Counted]) {
    let mut last: Option<&str> = None;
    for Counted { rule, caution } in all {
        if last == Some(rule.as_str()) {
            caution.key = format!("{rule}-{}", caution.text_version);
        }
        last = Some(rule);
    }
}

/// The level of `wire` for a level of the reference data.
pub(crate) fn level(level: Level) -> CautionLevel {
    match level {
        Level::Note => CautionLevel::Note,
        Level::Caution => CautionLevel::Caution,
        Level::Contraindication => CautionLevel::Contraindication,
        Level::Stop => CautionLevel::Stop,
    }
}

fn add_reference(found: &mut Found, caution: &materia::Caution, origin: String) {
    let audiences: Vec<String> = caution.audiences.iter().map(ToString::to_string).collect();
    let new = New {
        key: &caution.key,
        level: level(caution.level),
        text: &caution.text,
        audiences: if audiences.is_empty() { &everyone() } else { &audiences },
        source: &caution.source.text,
        status: caution.status.word(),
    };
    found.add(new, origin);
}

fn said_by_clinic(added: &Added, origin: &str, found: &mut Found) {
    let Added { amendment, caution, .. } = added;
    let audiences = if caution.audiences.is_empty() { &everyone()[..] } else { &caution.audiences };
    let new = New {
        key: &clinic_cautions::key(*amendment),
        level: caution.level.into(),
        text: caution.text.trim(),
        audiences,
        source: "the clinic's instructors",
        status: "entered by the clinic",
    };
    found.add(new, origin.to_owned());
}

struct Walk<'a> {
    reference: &'a Materia,
    whole: &'a Assembled,
    route: &'a str,
    regime: &'a str,
    /// Lowest intended age of the finished formula, in months. `None` means adults only.
    youngest_months: Option<u32>,
    own: &'a ClinicCautions,
}

impl Walk<'_> {
    /// Adds the clinic's cautions whose target satisfies `is_meant`.
    fn of_clinic(&self, is_meant: impl Fn(&Target) -> bool, origin: &str, found: &mut Found) {
        for added in self.own.added.iter().filter(|added| is_meant(&added.caution.on)) {
            said_by_clinic(added, origin, found);
        }
    }

    /// Adds the clinic's cautions on a material.
    fn of_material(&self, id: Uuid, origin: &str, found: &mut Found) {
        for added in self.own.added.iter().filter(|added| added.materials.contains(&id)) {
            said_by_clinic(added, origin, found);
        }
    }

    fn formula(&self, written: &Written, path: &[&str], found: &mut Found) {
        let here =
            |more: &str| path.iter().copied().chain(std::iter::once(more)).collect::<Vec<_>>().join(" > ");
        for own in &written.content.cautions {
            // The key comes from the text, so that equal texts in nested formulas are one caution.
            let key = format!("entered-{:08x}", text_version(own.text.trim()));
            let new = New {
                key: &key,
                level: own.level.into(),
                text: own.text.trim(),
                audiences: &everyone(),
                source: "the formula's author",
                status: "entered by the clinic",
            };
            found.add(new, here("this formula"));
        }
        let kind = self.reference.preparations.iter().find(|kind| kind.key == written.preparation);
        if let Some(kind) = kind {
            for caution in kind.cautions.iter().filter(|caution| caution.applies_to_route(self.route)) {
                add_reference(found, caution, here(&format!("every {}", kind.name)));
            }
        }
        self.of_clinic(
            |on| on.preparation.as_ref() == Some(&written.preparation),
            &here("its kind of preparation"),
            found,
        );
        for ingredient in written.ingredients.iter().flatten() {
            match ingredient {
                Ingredient::Material { id, version, name } => {
                    if let Some(material) = self.whole.materials.get(&(*id, *version)) {
                        self.material(material, &here(name), &written.preparation, found);
                        self.of_material(*id, &here(name), found);
                    }
                }
                Ingredient::Revision { id, title, .. } => {
                    if let Some(nested) = self.whole.nested.get(id) {
                        let mut path = path.to_vec();
                        path.push(title);
                        self.formula(nested, &path, found);
                    }
                }
            }
        }
    }

    fn material(&self, material: &Material, path: &str, preparation: &str, found: &mut Found) {
        for caution in material.cautions.iter().filter(|caution| caution.applies_to_route(self.route)) {
            let origin = match &caution.origin {
                materia::Origin::Itself => path.to_owned(),
                other => format!("{path} > {other}"),
            };
            add_reference(found, caution, origin);
        }
        let at = materia::Situation {
            preparation,
            route: self.route,
            material: Some(material),
            youngest_months: self.youngest_months,
        };
        for stop in self.reference.stops.iter().filter(|stop| stop.applies(&at)) {
            let new = New {
                key: &stop.key,
                level: level(stop.level),
                text: &stop.text,
                audiences: &everyone(),
                source: &stop.source.text,
                status: stop.status.word(),
            };
            found.add(new, path.to_owned());
        }
        for prohibition in &material.prohibited_in {
            let regime = prohibition.regime.to_string();
            // A prohibition below an age stops only a formula that is intended for that age.
            let meant = match &prohibition.audience {
                materia::Audience::Everyone => true,
                audience => self.youngest_months.is_some_and(|youngest| audience.includes_age(youngest)),
            };
            let level = if !meant {
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
            let new = New {
                key: &format!("prohibited-{}", prohibition.key),
                level,
                text: &text,
                audiences: &[prohibition.audience.to_string()],
                source: &prohibition.source.text,
                status: prohibition.status.word(),
            };
            found.add(new, path.to_owned());
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

/// The digest that names a caution set: SHA-256 over the sorted key, text version and level of every caution of level
/// `caution` and above. Origins, notes and the wording of sources do not change it.
#[must_use]
pub fn digest(cautions: &[Counted]) -> Sha {
    let mut binding: Vec<String> = cautions
        .iter()
        .map(|counted| &counted.caution)
        .filter(|caution| caution.level >= CautionLevel::Caution)
        .map(|caution| format!("{}\n{}\n{}", caution.key, caution.text_version, caution.level))
        .collect();
    binding.sort_unstable();
    canonical::digest(binding.iter().map(String::as_bytes))
}

/// IDs of every material at every level, sorted and without duplicates.
#[must_use]
pub fn contained_materials(written: &Written, whole: &Assembled) -> Vec<Uuid> {
    let mut all: Vec<Uuid> = whole
        .nested
        .values()
        .chain(std::iter::once(written))
        .flat_map(Written::materials)
        .map(|(id, _)| id)
        .collect();
    all.sort_unstable();
    all.dedup();
    all
}
