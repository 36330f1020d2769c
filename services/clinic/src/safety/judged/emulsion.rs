//! The emulsion: HLB required and given, the likely type with its reason, and what to look at.

use galenics::alcohol::AlcoholContent;
use galenics::emulsion::{
    Alkali, EmulsifierHlb, EmulsionFacts, EmulsionReport, HlbAnswer, NotApplicable, OilHlb, Soap,
    emulsifier_hlb, report, required_hlb, soap_formed,
};
use galenics::{Decimal, Evaluation, Mass, MaterialKind, Sourced};
use materia::{Emulsifies, Measured};

use super::Part;
use crate::error::{Error, Result};
use crate::materials;

/// What is to be said of an emulsion.
pub(in crate::safety) struct Emulsion {
    pub(in crate::safety) required: Option<HlbAnswer>,
    pub(in crate::safety) given: Option<HlbAnswer>,
    pub(in crate::safety) report: EmulsionReport,
}

/// Judges the emulsion, where there are oil and water to make one.
pub(super) fn judge(
    evaluation: &Evaluation,
    parts: &[Part<'_>],
    alcohol: &AlcoholContent,
) -> Result<Option<Emulsion>> {
    let there = |figure: &galenics::Figure| figure.value().is_none_or(|share| !share.is_zero());
    if !there(&evaluation.oil) || !there(&evaluation.water) {
        return Ok(None);
    }
    let emulsifiers = emulsifiers(parts);
    let exempt: Vec<NotApplicable> = emulsifiers.iter().filter_map(|one| one.hlb.clone()?.err()).collect();
    let refused = |refusal: galenics::Refusal| Error::internal(refusal.says.to_string());
    let given =
        if emulsifiers.is_empty() { None } else { Some(emulsifier_hlb(&emulsifiers).map_err(refused)?) };
    let oils = oils(parts);
    let required = if oils.is_empty() { None } else { Some(required_hlb(&oils).map_err(refused)?) };
    let facts = EmulsionFacts {
        oil: evaluation.oil.value(),
        water: evaluation.water.value(),
        emulsifier: evaluation.emulsifier.value(),
        beeswax: parts.iter().any(|part| part.material.key.starts_with("beeswax")),
        soap: soap(parts, evaluation)?,
        hlb: given.clone(),
        required: required.clone(),
        exempt,
        water_carried: None,
        alcohol: alcohol.by_mass.value(),
        electrolytes: parts
            .iter()
            .filter(|part| part.leaf.material.kind == MaterialKind::Salt)
            .map(|part| part.leaf.share.value())
            .sum(),
        phase_temperatures: None,
    };
    Ok(Some(Emulsion { required, given, report: report(&facts) }))
}

fn sourced(measured: &Measured) -> Sourced<Decimal> {
    Sourced::new(measured.value, materials::source(&measured.source.text, measured.status))
}

fn amount(part: &Part<'_>) -> Decimal {
    part.leaf.share.value().unwrap_or_default()
}

fn emulsifiers(parts: &[Part<'_>]) -> Vec<EmulsifierHlb> {
    parts
        .iter()
        .filter_map(|part| {
            let hlb = match part.material.emulsifies? {
                Emulsifies::ByHlb => part.material.hlb.own.first().map(|own| Ok(sourced(own))),
                Emulsifies::ByUseRate => Some(Err(NotApplicable::EmulsifyingWax)),
                // Wax does so only beside an alkali: `soap` judges that.
                Emulsifies::BySoap => return None,
                Emulsifies::ByNature if part.material.key.contains("egg") => Some(Err(NotApplicable::Egg)),
                Emulsifies::ByNature if part.material.key.contains("lecithin") => {
                    Some(Err(NotApplicable::Lecithin))
                }
                Emulsifies::ByNature => None,
            };
            Some(EmulsifierHlb { name: part.leaf.material.name.clone(), amount: amount(part), hlb })
        })
        .collect()
}

/// The oils by what they require for oil-in-water; the lists for water-in-oil are too thin to judge by.
fn oils(parts: &[Part<'_>]) -> Vec<OilHlb> {
    parts
        .iter()
        .filter(|part| part.leaf.material.kind.is_oil() && !amount(part).is_zero())
        .map(|part| OilHlb {
            name: part.leaf.material.name.clone(),
            amount: amount(part),
            required: part.material.hlb.required_oil_in_water.first().map(sourced),
        })
        .collect()
}

/// The soap that borax forms with the acids of a wax, where both are there and weighed.
fn soap(parts: &[Part<'_>], evaluation: &Evaluation) -> Result<Option<Soap>> {
    let Some(total) = evaluation.product.value() else { return Ok(None) };
    let grams = |part: &Part<'_>| Mass::grams(amount(part).checked_mul(total).unwrap_or_default()).ok();
    let borax = parts.iter().find(|part| part.material.key == "sodium-borate");
    let wax = parts
        .iter()
        .find(|part| part.leaf.material.kind == MaterialKind::Wax && part.material.acid_value.is_some());
    let (Some(borax), Some(wax)) = (borax, wax) else { return Ok(None) };
    let (Some(alkali), Some(mass), Some(acid)) = (grams(borax), grams(wax), &wax.material.acid_value) else {
        return Ok(None);
    };
    soap_formed(mass, &sourced(acid), Alkali::Borax, alkali)
        .map(Some)
        .map_err(|refusal| Error::internal(refusal.says.to_string()))
}
