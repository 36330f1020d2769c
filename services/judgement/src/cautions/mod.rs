//! The caution set of a formula, computed from its content at every level of nesting.
//!
//! Sources: the reference data, the calculations, the formula's author and the clinic's amendments. Acknowledgements
//! refer to the digest of the set, so keys, texts and levels must not change without a change of their source. Never
//! here: an amount of the formula in a caution.
//!
//! Order of work: gather what every carrier says, leave out what a rule says is not meant, let a finding
//! on a material take the place of what is said in general, then apply the clinic's levels and join what says the same.
//! What was looked at and left out is kept with the reason.

mod calculated;
mod content;
mod found;
mod offers;
mod replacing;
mod silence;

use materia::Materia;
use uuid::Uuid;
use wire::safety::{Caution, CautionLevel, LookedAt, NotRaised};

use crate::assembled::Assembled;
use crate::assessment::Assessment;
use crate::clinic_cautions::{ClinicCautions, Target};
use crate::error::Result;
use crate::written::Written;
use canonical::{self, Sha};
use content::Rules;
pub use found::Counted;
#[cfg(test)]
pub(crate) use found::level;
use found::{At, Candidate, Found, of_reference};
pub use offers::offers;
use silence::{Silence, Why};

/// What a formula comes to in cautions.
pub struct Raised {
    /// The cautions, the strongest first.
    pub cautions: Vec<Counted>,
    /// What was looked at and not raised, with the reason.
    pub not_raised: Vec<NotRaised>,
    /// The ingredients with and without findings.
    pub looked_at: LookedAt,
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
) -> Result<Raised> {
    let candidates = gather(reference, written, whole, judged, own)?;
    let silence = Silence::of(reference, written, whole, &candidates)?;
    let mut not_raised: Vec<(Caution, Why)> = Vec::new();
    let mut leave_out = |candidate: Candidate<'_>, why: Why| {
        let mut alone = Found::default();
        alone.add(reference, candidate);
        not_raised.extend(alone.into_cautions().map(|caution| (caution, why.clone())));
    };
    let mut meant = Vec::with_capacity(candidates.len());
    for candidate in candidates {
        match silence.why(&candidate) {
            Some(why) => leave_out(candidate, why),
            None => meant.push(candidate),
        }
    }
    let (meant, replaced) = replacing::for_material(reference, own, meant);
    for (candidate, by) in replaced {
        leave_out(candidate, Why::SaidBy(by));
    }
    let mut found = Found::default();
    for candidate in meant {
        found.add(reference, candidate);
    }
    let mut all: Vec<Counted> =
        found.into_cautions().map(|caution| Counted { rule: caution.key.clone(), caution }).collect();
    for counted in &mut all {
        own.apply(&counted.rule, &mut counted.caution);
    }
    unique_keys(&mut all);
    let mut said = replacing::anywhere(reference, &mut all);
    replacing::joint(reference, own, &mut all);
    said.extend(replacing::anywhere(reference, &mut all));
    said.extend(replacing::same_text(&mut all));
    not_raised.extend(said.into_iter().map(|(counted, by)| (counted.caution, Why::SaidBy(by))));
    all.sort_by(|a, b| b.caution.level.cmp(&a.caution.level).then_with(|| a.caution.key.cmp(&b.caution.key)));
    let not_raised = silence::told(reference, not_raised, &all);
    Ok(Raised { cautions: all, not_raised, looked_at: looked_at(reference, written, whole) })
}

/// Which ingredients have findings: those of the reference data, and those of which the clinic stated a caution or
/// finding. The others were entered with nothing but what follows from their kind and plant.
fn looked_at(reference: &Materia, written: &Written, whole: &Assembled) -> LookedAt {
    let mut looked_at =
        LookedAt { judged: Vec::new(), not_judged: Vec::new(), youngest_months: written.youngest_months() };
    for material in whole.materials.values() {
        let known = reference.material(&material.key).is_some() || material.has_own_findings();
        let names = if known { &mut looked_at.judged } else { &mut looked_at.not_judged };
        names.push(material.name.clone());
    }
    looked_at.judged.sort_unstable();
    looked_at.not_judged.sort_unstable();
    looked_at
}

/// What every carrier says, and what the calculations raise.
fn gather<'a>(
    reference: &'a Materia,
    written: &'a Written,
    whole: &'a Assembled,
    judged: &Assessment,
    own: &'a ClinicCautions,
) -> Result<Vec<Candidate<'a>>> {
    let mut all = Vec::new();
    if !whole.worked_out
        && let Some(caution) = reference.raised("composition-unknown")
    {
        let why = "calculated: it cannot be worked out with what is known of its materials now";
        all.push(Candidate { new: of_reference(caution), origin: why.to_owned(), at: At::default() });
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
    rules.of_content(written, &mut all)?;
    rules.of_clinic(|on| on.route.as_ref() == Some(&written.route), "its route", &mut all);
    rules.of_clinic(|on| *on == Target::default(), "every formula", &mut all);
    for route in reference.routes.iter().filter(|route| route.key == written.route) {
        let of_route = |caution| Candidate {
            new: of_reference(caution),
            origin: format!("used {}", route.name),
            at: At::default(),
        };
        all.extend(route.cautions.iter().map(of_route));
    }
    calculated::raised(reference, judged, &written.route, &mut all);
    Ok(all)
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
