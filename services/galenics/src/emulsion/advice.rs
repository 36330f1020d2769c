//! The likely type of an emulsion with its reason, and advice on its stability.
//!
//! Advice is common practice: it says what a trained compounder would look at, not what will happen.

use rust_decimal::Decimal;
use serde::Serialize;

use super::{
    required::{EmulsionType, HlbAnswer, NotApplicable},
    soap::Soap,
};
use crate::{Figure, Input, Rule, Source, Status, Temperature, Unknown, number::dec, units, words::words};

static BY_SOAP: Rule = Rule::new(
    "type_by_soap",
    "{=}: the alkali neutralises {neutralised} of the wax acids; sodium soap favours oil-in-water",
    Source::fixed("soap of a monovalent alkali favours oil-in-water", Status::CommonPractice),
);
static BY_HLB: Rule = Rule::new(
    "type_by_hlb",
    "{=}: the emulsifiers have an HLB of {hlb}; 3 to 6 favours water-in-oil, 8 to 16 favours oil-in-water",
    Source::fixed("Griffin's use ranges of HLB", Status::Verified),
);
static BY_EMULSIFIER: Rule = Rule::new(
    "type_by_emulsifier",
    "{=}: {emulsifier} favours this type",
    Source::fixed("habit of the emulsifier", Status::CommonPractice),
);
static NO_EMULSION: Rule = Rule::definition("no_emulsion", "{=}: the formula contains no {missing}");
static TYPE: Rule = Rule::definition("emulsion_type", "{=}");

words! {
    /// What a remark is about.
    Remark, "remark on stability" {
        PhasesApart = "phase temperatures apart",
        TooMuchWater = "water beyond what the emulsifier carries",
        BeeswaxAlone = "beeswax without alkali or emulsifier",
        AlcoholLoad = "alcohol load",
        ElectrolyteLoad = "electrolyte load",
        AlkaliLeftOver = "alkali left over",
        HlbApart = "HLB apart from what is required",
        NoEmulsifier = "no emulsifier",
    }
}

/// What is known of an emulsion.
#[derive(Debug, Clone, Default)]
pub struct EmulsionFacts {
    /// Share of oil, by mass of the whole.
    pub oil: Option<Decimal>,
    /// Share of water, by mass of the whole.
    pub water: Option<Decimal>,
    /// Share of emulsifiers, by mass of the whole.
    pub emulsifier: Option<Decimal>,
    /// Whether beeswax is in the oil.
    pub beeswax: bool,
    /// The soap formed in place, where an alkali is there.
    pub soap: Option<Soap>,
    /// The HLB of the emulsifiers, where there are any.
    pub hlb: Option<HlbAnswer>,
    /// The HLB that the oils require.
    pub required: Option<HlbAnswer>,
    /// Emulsifiers to which HLB does not apply.
    pub exempt: Vec<NotApplicable>,
    /// Grams of water that a gram of the emulsifiers carries, by their makers or by trial.
    pub water_carried: Option<Decimal>,
    /// Share of ethanol, by mass of the whole.
    pub alcohol: Option<Decimal>,
    /// Share of salts, by mass of the whole.
    pub electrolytes: Option<Decimal>,
    /// The temperatures at which the phases are put together.
    pub phase_temperatures: Option<(Temperature, Temperature)>,
}

/// The likely type, with its reason.
#[derive(Debug, Clone, Serialize)]
pub struct LikelyType {
    /// The type, where one is likely.
    pub emulsion: Option<EmulsionType>,
    /// The answer with its reason.
    pub figure: Figure,
}

/// One remark on stability.
#[derive(Debug, Clone, Serialize)]
pub struct Advice {
    /// What it is about.
    pub remark: Remark,
    /// The remark with the numbers behind it.
    pub figure: Figure,
}

/// The likely type and what to look at.
#[derive(Debug, Clone, Serialize)]
pub struct EmulsionReport {
    /// The likely type.
    pub likely: LikelyType,
    /// What to look at.
    pub advice: Vec<Advice>,
}

/// The likely type of an emulsion: by the soap formed in place, else by the emulsifier's habit, else by HLB.
#[must_use]
pub fn likely_type(facts: &EmulsionFacts) -> LikelyType {
    let typed = |emulsion: EmulsionType, rule, inputs| LikelyType {
        emulsion: Some(emulsion),
        figure: Figure::words(emulsion.as_str(), rule, inputs),
    };
    let missing = [("oil", facts.oil), ("water", facts.water)]
        .into_iter()
        .find(|(_, share)| share.is_some_and(|share| share.is_zero()));
    if let Some((missing, _)) = missing {
        let figure = Figure::words("no emulsion", &NO_EMULSION, vec![Input::words("missing", missing)]);
        return LikelyType { emulsion: None, figure };
    }
    if let Some(neutralised) = facts.soap.as_ref().and_then(|soap| soap.neutralised.value()) {
        // Below half, the unneutralised wax holds the balance: the cold creams of the old books, with little
        // water and half of the acid neutralised, lie at the edge, and more water than oil decides.
        let enough = neutralised >= dec("0.5");
        let watery = facts.water.zip(facts.oil).is_some_and(|(water, oil)| water >= oil);
        let emulsion = if enough && watery { EmulsionType::OilInWater } else { EmulsionType::WaterInOil };
        let inputs = vec![Input::number("neutralised", neutralised, units::SHARE)];
        if emulsion == EmulsionType::OilInWater {
            return typed(emulsion, &BY_SOAP, inputs);
        }
        return typed(
            emulsion,
            &BY_EMULSIFIER,
            vec![Input::words("emulsifier", "beeswax with little soap or little water")],
        );
    }
    if let Some(exempt) = facts.exempt.first() {
        let emulsion = match exempt {
            NotApplicable::EmulsifyingWax
            | NotApplicable::Lecithin
            | NotApplicable::Egg
            | NotApplicable::SoapInPlace => EmulsionType::OilInWater,
            NotApplicable::PlainBeeswax => EmulsionType::WaterInOil,
        };
        return typed(emulsion, &BY_EMULSIFIER, vec![Input::words("emulsifier", exempt.as_str())]);
    }
    match facts.hlb.as_ref().map(|answer| answer.hlb.known()) {
        Some(Ok(hlb)) => {
            let inputs = vec![Input::number("hlb", hlb, units::RATIO)];
            if hlb >= Decimal::from(8) {
                return typed(EmulsionType::OilInWater, &BY_HLB, inputs);
            }
            if hlb <= Decimal::from(6) {
                return typed(EmulsionType::WaterInOil, &BY_HLB, inputs);
            }
            let figure = Figure::words("either type", &BY_HLB, inputs);
            LikelyType { emulsion: None, figure }
        }
        Some(Err(unknown)) => unknown_type(unknown),
        None if facts.beeswax => {
            typed(EmulsionType::WaterInOil, &BY_EMULSIFIER, vec![Input::words("emulsifier", "plain beeswax")])
        }
        None => unknown_type(Unknown::of("emulsifier")),
    }
}

fn unknown_type(unknown: Unknown) -> LikelyType {
    LikelyType { emulsion: None, figure: Figure::unknown_for(unknown, "", &TYPE, Vec::new()) }
}

macro_rules! remark {
    ($name:ident, $key:literal, $says:literal) => {
        static $name: Rule =
            Rule::new($key, $says, Source::fixed("habit of the workshop", Status::CommonPractice));
    };
}
remark!(
    APART,
    "phases_apart",
    "The phase temperatures differ by {=}. Combine the phases within 5 °C of each other, or the wax sets \
     before it is dispersed."
);
remark!(
    WATER,
    "water_beyond",
    "Water is {water}: {=} g for each g of emulsifier, which carries {carried} g. Add emulsifier or reduce \
     the water."
);
remark!(
    ALONE,
    "beeswax_alone",
    "Beeswax, oil and water make up {=}, without alkali or emulsifier. Water may separate: add an emulsifier."
);
remark!(ALCOHOL, "alcohol_load", "Alcohol is {=} by mass. Above 20 % it destabilises most emulsifiers.");
remark!(SALT, "electrolyte_load", "Salts are {=}. Above 2 % they destabilise most emulsifiers.");
remark!(LEFT, "alkali_left", "Free alkali: {=}. It finds no acid and can burn the skin. Reduce the alkali.");
remark!(
    HLB,
    "hlb_apart",
    "The HLB of the emulsifiers differs by {=} from the HLB that the oils require. \
     Adjust the blend."
);
remark!(NONE, "no_emulsifier", "Emulsifier: {=}. Without enough emulsifier, oil and water separate.");

/// The likely type and the remarks on stability.
#[must_use]
pub fn report(facts: &EmulsionFacts) -> EmulsionReport {
    let mut advice = Vec::new();
    let mut add = |remark, value, unit, rule, inputs| {
        advice.push(Advice { remark, figure: Figure::number(value, unit, rule, inputs) });
    };
    if let Some((one, other)) = facts.phase_temperatures {
        let apart = (one.c() - other.c()).abs();
        if apart > Decimal::from(5) {
            add(Remark::PhasesApart, apart, units::CELSIUS, &APART, Vec::new());
        }
    }
    let both = facts.oil.zip(facts.water).filter(|(oil, water)| !oil.is_zero() && !water.is_zero());
    if let (Some(_), Some(emulsifier)) = (both, facts.emulsifier) {
        let water = facts.water.unwrap_or_default();
        let per_gram = crate::number::divide(water, emulsifier);
        if let (Some(carried), Some(per_gram)) = (facts.water_carried, per_gram)
            && per_gram > carried
        {
            let inputs = vec![
                Input::number("water", water, units::SHARE_OF_MASS),
                Input::number("carried", carried, units::RATIO),
            ];
            add(Remark::TooMuchWater, per_gram, units::RATIO, &WATER, inputs);
        }
        if emulsifier.is_zero() && facts.soap.is_none() && !facts.beeswax {
            add(Remark::NoEmulsifier, emulsifier, units::SHARE_OF_MASS, &NONE, Vec::new());
        }
        let only_wax =
            facts.hlb.is_none() && facts.exempt.iter().all(|exempt| *exempt == NotApplicable::PlainBeeswax);
        if facts.beeswax && facts.soap.is_none() && only_wax {
            let (oil, water) = both.unwrap_or_default();
            add(Remark::BeeswaxAlone, oil + water, units::SHARE_OF_MASS, &ALONE, Vec::new());
        }
    }
    if let Some(alcohol) = facts.alcohol.filter(|alcohol| *alcohol > dec("0.2")) {
        add(Remark::AlcoholLoad, alcohol, units::SHARE_OF_MASS, &ALCOHOL, Vec::new());
    }
    if let Some(salts) = facts.electrolytes.filter(|salts| *salts > dec("0.02")) {
        add(Remark::ElectrolyteLoad, salts, units::SHARE_OF_MASS, &SALT, Vec::new());
    }
    if let Some(left) =
        facts.soap.as_ref().and_then(|soap| soap.left_over.value()).filter(|left| !left.is_zero())
    {
        add(Remark::AlkaliLeftOver, left, "mmol", &LEFT, Vec::new());
    }
    let have = facts.hlb.as_ref().and_then(|answer| answer.hlb.value());
    let required = facts.required.as_ref().and_then(|answer| answer.hlb.value());
    if let Some(apart) = have.zip(required).map(|(have, required)| (have - required).abs())
        && apart > Decimal::ONE
    {
        add(Remark::HlbApart, apart, units::RATIO, &HLB, Vec::new());
    }
    EmulsionReport { likely: likely_type(facts), advice }
}
