//! The emulsion that a formula makes: oils, emulsifiers, soap and loads read from its composition.

use rust_decimal::Decimal;
use serde::Serialize;

use super::{
    advice::{EmulsionFacts, EmulsionReport, report},
    required::{EmulsifierHlb, EmulsionType, HlbAnswer, NotApplicable, OilHlb, emulsifier_hlb, required_hlb},
    soap::{Alkali, Soap, soap_formed},
};
use crate::{
    Evaluation, Leaf, Mass, MaterialKind, Refusal, Source, Sourced, Status, Temperature, Text,
    alcohol_content::alcohol_content,
    number::{HUNDRED, divide},
};

/// What is known of a material for emulsions.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct EmulsionProfile {
    /// The material's id.
    pub material: Text,
    /// Its own HLB, where it is a nonionic emulsifier.
    pub hlb: Option<Sourced<Decimal>>,
    /// Why HLB does not apply to it, where it emulsifies in another way.
    pub not_applicable: Option<NotApplicable>,
    /// What it requires as an oil in an oil-in-water emulsion.
    pub required_oil_in_water: Option<Sourced<Decimal>>,
    /// What it requires as an oil in a water-in-oil emulsion.
    pub required_water_in_oil: Option<Sourced<Decimal>>,
    /// Its acid value in mg KOH/g, where an alkali can form soap with it.
    pub acid_value: Option<Sourced<Decimal>>,
    /// Which alkali it is.
    pub alkali: Option<Alkali>,
    /// Grams of water that a gram of it carries.
    pub water_carried: Option<Decimal>,
    /// Whether it is beeswax.
    pub beeswax: bool,
}

impl EmulsionProfile {
    /// A material of which nothing is known but its id.
    pub fn new(material: impl Into<Text>) -> Self {
        Self {
            material: material.into(),
            hlb: None,
            not_applicable: None,
            required_oil_in_water: None,
            required_water_in_oil: None,
            acid_value: None,
            alkali: None,
            water_carried: None,
            beeswax: false,
        }
    }
}

/// The emulsion that a formula makes.
#[derive(Debug, Clone, Serialize)]
pub struct Emulsion {
    /// What the oils require; none where there is no oil.
    pub required: Option<HlbAnswer>,
    /// What the emulsifiers have; none where there are none.
    pub emulsifiers: Option<HlbAnswer>,
    /// The soap formed in place, for 100 g of what is made; none where no alkali meets an acid.
    pub soap: Option<Soap>,
    /// The likely type and what to look at.
    pub report: EmulsionReport,
}

/// Reads the emulsion that a formula makes, for a type that is wanted.
///
/// # Errors
/// Refuses a composition that is not known, with what is missing, and HLB or acid values outside their range.
pub fn emulsion_of(
    evaluation: &Evaluation,
    profiles: &[EmulsionProfile],
    wanted: EmulsionType,
    phase_temperatures: Option<(Temperature, Temperature)>,
) -> Result<Emulsion, Refusal> {
    let known = |leaf: &Leaf| leaf.share.known().map_err(|unknown| Refusal::unknown("composition", &unknown));
    let (mut oils, mut emulsifiers, mut exempt) = (Vec::new(), Vec::new(), Vec::new());
    let (mut acid, mut wax, mut alkali) = (Decimal::ZERO, Decimal::ZERO, None);
    let (mut salts, mut carried, mut beeswax) = (Decimal::ZERO, Vec::new(), false);
    for leaf in &evaluation.composition {
        let share = known(leaf)?;
        let profile = profiles.iter().find(|profile| profile.material == leaf.material.id);
        let kind = leaf.material.kind;
        if kind.is_oil() {
            let required = profile.and_then(|profile| match wanted {
                EmulsionType::OilInWater => profile.required_oil_in_water.clone(),
                EmulsionType::WaterInOil => profile.required_water_in_oil.clone(),
            });
            oils.push(OilHlb { name: leaf.material.name.clone(), amount: share, required });
        }
        if matches!(kind, MaterialKind::Salt | MaterialKind::Alkali) {
            salts += share;
        }
        let of_profile = profile.and_then(|profile| match (profile.not_applicable, &profile.hlb) {
            (Some(why), _) => Some(Err(why)),
            (None, Some(hlb)) => Some(Ok(hlb.clone())),
            (None, None) => None,
        });
        if of_profile.is_some() || kind == MaterialKind::Emulsifier {
            if let Some(Err(why)) = &of_profile {
                exempt.push(*why);
            }
            emulsifiers.push(EmulsifierHlb {
                name: leaf.material.name.clone(),
                amount: share,
                hlb: of_profile,
            });
        }
        let Some(profile) = profile else { continue };
        beeswax |= profile.beeswax;
        if let Some(of) = profile.alkali {
            alkali = Some((of, share));
        }
        if let Some(value) = &profile.acid_value {
            wax += share;
            acid += share.checked_mul(value.value).ok_or(Refusal::too_large("acid_value"))?;
        }
        if let Some(water) = profile.water_carried {
            carried.push((share, water));
        }
    }
    let soap = soap_of(alkali, wax, acid)?;
    let required = if oils.is_empty() { None } else { Some(required_hlb(&oils)?) };
    let have = if emulsifiers.is_empty() { None } else { Some(emulsifier_hlb(&emulsifiers)?) };
    let sum: Decimal = emulsifiers.iter().map(|emulsifier| emulsifier.amount).sum();
    let water_carried = match carried.as_slice() {
        [] => None,
        rows => {
            let all: Decimal = rows.iter().map(|(share, water)| share.saturating_mul(*water)).sum();
            divide(all, rows.iter().map(|(share, _)| *share).sum())
        }
    };
    let facts = EmulsionFacts {
        oil: evaluation.oil.value(),
        water: evaluation.water.value(),
        emulsifier: Some(sum),
        beeswax,
        soap: soap.clone(),
        hlb: have.clone().filter(|answer| answer.hlb.answer().is_none()),
        required: required.clone(),
        exempt,
        water_carried,
        alcohol: alcohol_content(evaluation).by_mass.value(),
        electrolytes: Some(salts),
        phase_temperatures,
    };
    Ok(Emulsion { required, emulsifiers: have, soap, report: report(&facts) })
}

/// The soap in 100 g of what is made, from the mean acid value of everything that has one.
fn soap_of(alkali: Option<(Alkali, Decimal)>, wax: Decimal, acid: Decimal) -> Result<Option<Soap>, Refusal> {
    let Some((alkali, share)) = alkali.filter(|_| !acid.is_zero()) else { return Ok(None) };
    let mass = |share: Decimal| {
        Mass::grams(share.saturating_mul(HUNDRED))
            .map_err(|error| Refusal::out_of_range("composition", error.to_string()))
    };
    let mean = divide(acid, wax).ok_or(Refusal::too_large("acid_value"))?;
    let source = Source::fixed("mean acid value of the waxes and acids, by mass", Status::Definition);
    soap_formed(mass(wax)?, &Sourced::new(mean, source), alkali, mass(share)?).map(Some)
}
