//! Emulsion of a composition, and the emulsion properties of each material in the reference data.

use galenics::emulsion::{Alkali, Emulsion, EmulsionProfile, EmulsionType, NotApplicable, emulsion_of};
use galenics::{Decimal, Evaluation, Sourced, Text};
use materia::{Emulsifies, Material, Measured};

use crate::facts;
use crate::observed::Observed;
use crate::parts::Part;

/// Assesses the emulsion of a composition. Returns `None` if it holds no oil or no water, or if either share is
/// unknown; the evaluation then names the missing datum.
///
/// Always judged as oil-in-water, because the published lists for water-in-oil hold too few oils.
pub(crate) fn judge(evaluation: &Evaluation, parts: &[Part<'_>], observed: &Observed) -> Option<Emulsion> {
    let there = |figure: &galenics::Figure| figure.value().is_some_and(|share| !share.is_zero());
    if !there(&evaluation.oil) || !there(&evaluation.water) {
        return None;
    }
    let profiles: Vec<EmulsionProfile> =
        parts.iter().map(|part| profile(&part.leaf.material.id, part.material)).collect();
    emulsion_of(evaluation, &profiles, EmulsionType::OilInWater, observed.phase_temperatures).ok()
}

fn sourced(measured: &Measured) -> Sourced<Decimal> {
    Sourced::new(measured.value, facts::source(&measured.source.text, measured.status))
}

/// The emulsion properties that the reference data hold for a material, under the ID `id` of the calculations.
#[must_use]
pub fn profile(id: &Text, material: &Material) -> EmulsionProfile {
    let first = |values: &[Measured]| values.first().map(sourced);
    EmulsionProfile {
        hlb: first(&material.hlb.own),
        not_applicable: match material.emulsifies {
            Some(Emulsifies::ByUseRate) => Some(NotApplicable::EmulsifyingWax),
            Some(Emulsifies::ByNature) if material.key.contains("egg") => Some(NotApplicable::Egg),
            Some(Emulsifies::ByNature) if material.key.contains("lecithin") => Some(NotApplicable::Lecithin),
            Some(Emulsifies::ByNature | Emulsifies::ByHlb | Emulsifies::BySoap) | None => None,
        },
        required_oil_in_water: first(&material.hlb.required_oil_in_water),
        required_water_in_oil: first(&material.hlb.required_water_in_oil),
        acid_value: material.acid_value.as_ref().map(sourced),
        alkali: (material.key == "sodium-borate").then_some(Alkali::Borax),
        beeswax: material.key.starts_with("beeswax"),
        ..EmulsionProfile::new(id.clone())
    }
}
