//! Preservation of the water phase.
//!
//! Collects the facts for `galenics::use_by::preservation`. Never here: an unknown share counted as preserving.

use galenics::use_by::{
    AcidPreservative, Preservation, PreservationFacts, PreservationRules, SugarCounts, WateryPhase,
    preservation, watery_phase,
};
use galenics::{Decimal, Evaluation, Fraction, HerbState, Preparation, Source, Sourced, Status};
use materia::{Materia, MaterialKind, Substance};

use crate::error::{Error, Result};
use crate::observed::Observed;
use crate::parts::Part;

/// The substance that preserves a vinegar.
const ACETIC_ACID: &str = "acetic-acid";
/// A water phase below this pH counts as acid.
const NEUTRAL: Decimal = Decimal::from_parts(7, 0, 0, false, 0);

/// Judges whether the water phase of a composition is preserved.
///
/// An acid preservative counts only at a measured pH, by the share of its acid that is undissociated at that pH.
/// Several preservatives are judged separately; one that suffices is enough.
///
/// # Errors
/// Returns [`Error::Internal`] if the calculation refuses these facts.
pub(crate) fn judge(
    reference: &Materia,
    evaluation: &Evaluation,
    parts: &[Part<'_>],
    observed: &Observed,
) -> Result<(Preservation, Option<WateryPhase>)> {
    let glycerol: Vec<_> = parts
        .iter()
        .filter(|part| part.material.key == "glycerol")
        .map(|part| part.leaf.material.id.clone())
        .collect();
    let rules = PreservationRules::remembered();
    let found = |facts: &PreservationFacts| {
        preservation(facts, &rules).map_err(|refusal| Error::internal(refusal.says.to_string()))
    };
    // Unknown shares never count as preserving.
    let Ok(phase) = watery_phase(evaluation, &glycerol) else {
        return Ok((
            found(&PreservationFacts {
                water_activity: observed.water_activity.clone(),
                ..PreservationFacts::default()
            })?,
            None,
        ));
    };
    let facts = PreservationFacts {
        alcohol: Some(phase.alcohol),
        acid: observed.ph.is_some_and(|ph| ph < NEUTRAL) && !from_fresh_plant(evaluation),
        glycerol: Some(phase.glycerol),
        sugar: Some(phase.sugar),
        sugar_counts: sugar_counts(evaluation),
        vinegar: vinegar(parts, &phase),
        water: Some(phase.water),
        ethanol: Some(phase.ethanol),
        preservative: None,
        ph: observed.ph,
        water_activity: observed.water_activity.clone(),
    };
    let mut last = None;
    for part in parts.iter().filter(|part| part.material.kind == MaterialKind::Preservative) {
        if let Some(acid) = acid(reference, part, &phase, &rules) {
            let judged = found(&PreservationFacts { preservative: Some(acid), ..facts.clone() })?;
            if judged.preserved {
                return Ok((judged, Some(phase)));
            }
            last = Some(judged);
        }
    }
    let judged = last.map_or_else(|| found(&facts), Ok)?;
    Ok((judged, Some(phase)))
}

/// How the sugar counts in this kind of preparation. A fresh herb in a syrup asks for sugar alone, since the rule for sugar
/// with alcohol speaks of neutral syrups.
fn sugar_counts(evaluation: &Evaluation) -> SugarCounts {
    match evaluation.preparation {
        Preparation::Syrup if !from_fresh_plant(evaluation) => SugarCounts::WithAlcohol,
        Preparation::Oxymel => SugarCounts::WithVinegar,
        Preparation::Electuary => moist(evaluation).map_or(SugarCounts::Alone, |name| {
            let why = format!("sugar keeps an electuary only with dry powder, and {name} brings water");
            SugarCounts::Not(why.into())
        }),
        _ => SugarCounts::Alone,
    }
}

/// What brings water of its own besides honey, sugar and syrup. What is not known counts as moist.
fn moist(evaluation: &Evaluation) -> Option<&galenics::Text> {
    let leaves = evaluation.composition.iter();
    let mut others = leaves.filter(|leaf| leaf.material.kind != galenics::MaterialKind::Sugar);
    let brings = others.find(|leaf| leaf.material.solution().map_or(true, |of| !of.water.is_zero()));
    brings.map(|leaf| &leaf.material.name)
}

/// The acetic acid of the vinegars in the water phase, each at the low end of its range.
fn vinegar(parts: &[Part<'_>], phase: &WateryPhase) -> Option<Fraction> {
    let mut acid = Decimal::ZERO;
    for part in parts {
        let mut held = part.material.constituents.iter();
        let Some(held) = held.find(|held| held.substance == ACETIC_ACID) else { continue };
        let given = part.leaf.share.value()?.checked_mul(held.low_percent)?;
        acid = acid.checked_add(given.checked_div(Decimal::ONE_HUNDRED)?)?;
    }
    // The tail of a division decides nothing at the limit.
    Fraction::new(phase.concentration(acid)?.get().round_dp(9)).ok()
}

/// Whether a fresh herb is in the composition. Its water and microbes require more alcohol at every pH.
fn from_fresh_plant(evaluation: &Evaluation) -> bool {
    let mut herbs = evaluation.herbs.iter().map(|herb| &herb.material.herb);
    herbs.any(|state| matches!(state, Some(HerbState::Fresh { .. })))
}

/// The acids that the preservatives of a composition give, by name.
pub(crate) fn acids(reference: &Materia, parts: &[Part<'_>]) -> Vec<String> {
    let preservatives = parts.iter().filter(|part| part.material.kind == MaterialKind::Preservative);
    preservatives.filter_map(|part| Some(given(reference, part)?.0.name.clone())).collect()
}

/// The acid that a preservative gives in water, with its pKa, and the least share of the preservative that is acid, in per
/// cent.
fn given<'r>(reference: &'r Materia, part: &Part<'_>) -> Option<(&'r Substance, Decimal, Decimal)> {
    part.material.constituents.iter().find_map(|held| {
        let substance = reference.substance(&held.substance)?;
        let as_acid = substance.as_acid.as_ref()?;
        let acid = reference.substance(&as_acid.acid)?;
        if !gives_acid(substance, acid) {
            return None;
        }
        Some((acid, acid.pka?, held.low_percent.checked_mul(as_acid.factor)?))
    })
}

/// The least acid that a preservative gives in the water phase, calculated from the low end of its assay range.
fn acid(
    reference: &Materia,
    part: &Part<'_>,
    phase: &WateryPhase,
    rules: &PreservationRules,
) -> Option<AcidPreservative> {
    let (acid, pka, percent) = given(reference, part)?;
    let of_whole = part.leaf.share.value()?.checked_mul(percent)?.checked_div(Decimal::ONE_HUNDRED)?;
    let share: Fraction = phase.concentration(of_whole)?;
    Some(AcidPreservative {
        name: acid.name.clone().into(),
        share,
        pka: Sourced::new(
            pka,
            Source::new(format!("pKa of {} in water at 25 C", acid.name), Status::FromMemory),
        ),
        enough: rules.undissociated_acid.clone(),
    })
}

/// Whether a substance gives the acid in water: the acid itself and its salts do. An ester, such as a paraben, does
/// not, although the law on limits counts it as acid.
fn gives_acid(substance: &Substance, acid: &Substance) -> bool {
    const SALT_OF: [&str; 3] = ["potassium ", "sodium ", "calcium "];
    substance.key == acid.key || SALT_OF.iter().any(|metal| substance.name.starts_with(metal))
}
