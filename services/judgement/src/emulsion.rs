//! The emulsion: what the reference data know of each material for it.

use galenics::emulsion::{Alkali, Emulsion, EmulsionProfile, EmulsionType, NotApplicable, emulsion_of};
use galenics::{Decimal, Evaluation, Sourced, Text};
use materia::{Emulsifies, Material, Measured};

use crate::facts;
use crate::observed::Observed;
use crate::parts::Part;

/// The emulsion that a composition makes; none where there is no oil or no water, or where the composition is not known
/// (what is missing then stands among the unknowns). Held against oil-in-water: the published lists for water-in-oil
/// are too thin to judge by.
pub fn judge(evaluation: &Evaluation, parts: &[Part<'_>], observed: &Observed) -> Option<Emulsion> {
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

/// What is known of a material for emulsions.
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
