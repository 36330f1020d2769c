//! The caution set of a formula, computed from its content at every level of nesting.
//!
//! Sources: the reference data, the calculations, the formula's author and the clinic's amendments. Acknowledgements
//! refer to the digest of the set, so keys, texts and levels must not change without a change of their source. Never
//! here: an amount of the formula in a caution.

use std::borrow::Cow;
use std::collections::{BTreeMap, HashSet};

use galenics::emulsion::Remark;
use galenics::limits::Verdict;
use galenics::{Decimal, interrupt};
use materia::{Level, Materia, Material};
use uuid::Uuid;
use wire::safety::{Caution, CautionLevel};

use crate::assembled::Assembled;
use crate::assessment::Assessment;
use crate::clinic_cautions::{self, Added, ClinicCautions, Target};
use crate::error::Result;
use crate::limits::LimitAssessment;
use crate::nested::Way;
use crate::written::{Ingredient, Written};
use canonical::{self, Sha};

/// A caution of a set with its rule. One rule can give several cautions, whose texts differ by material.
pub struct Counted {
    /// Key of the rule that raised the caution.
    pub rule: String,
    /// The caution, at the level that the clinic gave to its rule.
    pub caution: Caution,
}

/// Cautions by key and text, each with the origins that it was found at.
#[derive(Default)]
struct Found(BTreeMap<(String, String), (Caution, HashSet<String>)>);

impl Found {
    fn add(&mut self, new: &New<'_>, origin: String) {
        let key = (new.key.to_string(), new.text.to_string());
        let (caution, origins) = self.0.entry(key).or_insert_with_key(|(key, text)| {
            let caution = Caution {
                key: key.clone(),
                text_version: text_version(text),
                level: new.level,
                language: "en".into(),
                text: text.clone(),
                audiences: Vec::new(),
                source: new.source.to_owned(),
                status: new.status.replace('_', " "),
                origins: Vec::new(),
                changed: None,
            };
            (caution, HashSet::new())
        });
        caution.level = caution.level.max(new.level);
        for audience in &*new.audiences {
            if !caution.audiences.contains(audience) {
                caution.audiences.push(audience.clone());
            }
        }
        if origins.insert(origin.clone()) {
            caution.origins.push(origin);
        }
    }
}

/// A caution found at one origin.
struct New<'a> {
    key: Cow<'a, str>,
    level: CautionLevel,
    text: Cow<'a, str>,
    audiences: Cow<'a, [String]>,
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
///
/// Every nested revision is looked at once. A caution names each of its origins with the ways that lead there, up to
/// [`MOST_WAYS`](crate::nested::MOST_WAYS) for each nested revision.
///
/// # Errors
/// Returns [`Error::Interrupted`](crate::Error::Interrupted) if the calculation was stopped from outside.
pub fn cautions(
    reference: &Materia,
    written: &Written,
    whole: &Assembled,
    judged: &Assessment,
    own: &ClinicCautions,
) -> Result<Vec<Counted>> {
    let mut found = Found::default();
    if !whole.worked_out
        && let Some(caution) = reference.raised("composition-unknown")
    {
        let why = "calculated: it cannot be worked out with what is known of its materials now";
        add_reference(&mut found, caution, why.to_owned());
    }
    let rules = Rules {
        reference,
        whole,
        route: &written.route,
        exposure: reference.routes.iter().find(|it| it.key == written.route).map(|it| it.exposure),
        regime: written.content.regime.as_str(),
        youngest_months: written.youngest_months(),
        own,
    };
    rules.of_content(written, &mut found)?;
    rules.of_clinic(|on| on.route.as_ref() == Some(&written.route), "its route", &mut found);
    rules.of_clinic(|on| *on == Target::default(), "every formula", &mut found);
    for route in reference.routes.iter().filter(|route| route.key == written.route) {
        for caution in &route.cautions {
            add_reference(&mut found, caution, format!("used {}", route.name));
        }
    }
    raised(reference, judged, &mut found);
    let found = found.0.into_values();
    let mut all: Vec<Counted> =
        found.map(|(caution, _)| Counted { rule: caution.key.clone(), caution }).collect();
    for counted in &mut all {
        own.apply(&counted.rule, &mut counted.caution);
    }
    unique_keys(&mut all);
    all.sort_by(|a, b| b.caution.level.cmp(&a.caution.level).then_with(|| a.caution.key.cmp(&b.caution.key)));
    Ok(all)
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
        // Stronger than a monograph speaks of is shown with the limits; it is no contraindication.
        .filter(|limit| limit.force != materia::Force::Dosage.word() || limit.verdict == Verdict::Unknown)
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
            // No rule is no excess: it is told with the limits, and raises nothing.
            Verdict::Within | Verdict::NotCovered => {}
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
    found.add(&of_reference(caution), origin);
}

fn of_reference(caution: &materia::Caution) -> New<'_> {
    let audiences: Vec<String> = caution.audiences.iter().map(ToString::to_string).collect();
    New {
        key: Cow::Borrowed(&caution.key),
        level: level(caution.level),
        text: Cow::Borrowed(&caution.text),
        audiences: if audiences.is_empty() { everyone().to_vec().into() } else { audiences.into() },
        source: &caution.source.text,
        status: caution.status.word(),
    }
}

fn said_by_clinic(added: &Added) -> New<'_> {
    let Added { amendment, caution, .. } = added;
    New {
        key: clinic_cautions::key(*amendment).into(),
        level: caution.level.into(),
        text: caution.text.trim().into(),
        audiences: if caution.audiences.is_empty() {
            everyone().to_vec().into()
        } else {
            Cow::Borrowed(&caution.audiences)
        },
        source: "the clinic's instructors",
        status: "entered by the clinic",
    }
}

/// A caution of one formula of the graph, found at one of its lines or, at line 0, before them.
struct AtLine<'a> {
    line: usize,
    origin: String,
    caution: New<'a>,
}

struct Rules<'a> {
    reference: &'a Materia,
    whole: &'a Assembled,
    route: &'a str,
    /// How the finished formula meets the body; `None` for a route that the reference data do not hold.
    exposure: Option<materia::Exposure>,
    regime: &'a str,
    /// Lowest intended age of the finished formula, in months. `None` means adults only.
    youngest_months: Option<u32>,
    own: &'a ClinicCautions,
}

impl<'a> Rules<'a> {
    /// Adds the clinic's cautions whose target satisfies `is_meant`.
    fn of_clinic(&self, is_meant: impl Fn(&Target) -> bool, origin: &str, found: &mut Found) {
        for added in self.own.added.iter().filter(|added| is_meant(&added.caution.on)) {
            found.add(&said_by_clinic(added), origin.to_owned());
        }
    }

    /// Adds the cautions of what is in the formula at every level, in the order of its lines from top to bottom: the order
    /// decides which source is named and how origins and audiences are listed.
    fn of_content(&self, written: &'a Written, found: &mut Found) -> Result<()> {
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
            found.add(&at.caution, origin.join(" > "));
        }
        Ok(())
    }

    /// The cautions of one formula: its author's, those of its kind, and those of the materials on its own lines.
    fn of_formula(&self, written: &'a Written) -> Result<Vec<AtLine<'a>>> {
        let mut all = Vec::new();
        let mut before =
            |origin: &str, caution| all.push(AtLine { line: 0, origin: origin.to_owned(), caution });
        for own in &written.content.cautions {
            // The key comes from the text, so that equal texts in nested formulas are one caution.
            let caution = New {
                key: format!("entered-{:08x}", text_version(own.text.trim())).into(),
                level: own.level.into(),
                text: own.text.trim().into(),
                audiences: everyone().to_vec().into(),
                source: "the formula's author",
                status: "entered by the clinic",
            };
            before("this formula", caution);
        }
        let kind = self.reference.preparations.iter().find(|kind| kind.key == written.preparation);
        if let Some(kind) = kind {
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
            let mut add = |origin: String, caution| all.push(AtLine { line: line + 1, origin, caution });
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
