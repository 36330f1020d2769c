//! The alcohol of a finished preparation, through every nested level.

use rust_decimal::Decimal;
use serde::Serialize;

use crate::{
    Evaluation, Figure, Input, MaterialKind, Rule, Source, Status, Unknown,
    alcohol::{by_volume, float, pure_ethanol},
    evaluation::Evaporated,
    number::{from_f64, to_f64},
    units,
};

static BY_MASS: Rule = Rule::new(
    "alcohol_in_product_by_mass",
    "ethanol in the product: {=}",
    Source::fixed("shares of the spirits, each by mass by OIML R 22", Status::Verified),
);
static BY_VOLUME: Rule = Rule::new(
    "alcohol_in_product_by_volume",
    "{by mass} of ethanol at a product density of {density}: {=}",
    Source::fixed("ethanol of 0.78924 g/mL at 20 C, OIML R 22", Status::Verified),
);
static OF_WATERY: Rule = Rule::new(
    "alcohol_of_watery_part",
    "ethanol in the water and ethanol alone: {=}",
    Source::fixed("OIML R 22: q = p rho(p,t) / rho(1,t)", Status::Verified),
);
static SHOWN_TO_REMAIN: Rule = Rule::new(
    "alcohol_shown_to_remain",
    "at least {=} of ethanol remains, if spirit evaporates before water",
    Source::fixed("spirit counted as leaving before water; OIML R 22", Status::Definition),
);
static NO_ETHANOL: Rule = Rule::definition("no_alcohol_in_product", "the product contains no ethanol: {=}");
static NEITHER: Rule = Rule::definition("no_watery_part", "the product has {=}");

/// Shares are known to so much.
const PRECISION: f64 = 1e-9;

/// The alcohol of a finished preparation.
#[derive(Debug, Clone, Serialize)]
pub struct AlcoholContent {
    /// Ethanol by mass of the whole.
    pub by_mass: Figure,
    /// Ethanol by volume of the whole at 20 °C.
    pub by_volume: Figure,
    /// Ethanol by volume of the ethanol and water alone, which is what preserves.
    pub of_watery_part: Figure,
    /// The same that is shown to remain: less where something evaporated, since spirit leaves first.
    pub shown_to_remain: Figure,
}

/// The alcohol of what a formula makes. A spirit whose strength is not known makes it unknown.
#[must_use]
pub fn alcohol_content(evaluation: &Evaluation) -> AlcoholContent {
    let (mut ethanol, mut water) = (Ok(0.0), Ok(0.0));
    let mut inputs = Vec::new();
    for leaf in &evaluation.composition {
        let of = leaf.material.solution();
        let brings = |part: Decimal| match leaf.share.known() {
            _ if part.is_zero() => Ok(0.0),
            share => share.map(|share| to_f64(share) * to_f64(part)),
        };
        let part = match &of {
            Ok(of) => brings(of.ethanol),
            // What is no spirit holds no ethanol, however much water there is in it.
            Err(_) if leaf.material.kind != MaterialKind::Ethanol => Ok(0.0),
            Err(unknown) => Err(unknown.clone()),
        };
        if let (Ok(part), Some(_)) = (&part, &leaf.material.ethanol_by_volume) {
            let value = from_f64(*part).unwrap_or_default();
            inputs.push(Input::number(leaf.material.name.clone(), value, units::SHARE_OF_MASS));
        }
        ethanol = plus(ethanol, part);
        water = plus(water, of.and_then(|of| brings(of.water)));
    }
    let ethanol = match ethanol {
        Ok(ethanol) => ethanol,
        Err(unknown) => {
            let missing = |unit, rule| Figure::unknown_for(unknown.clone(), unit, rule, Vec::new());
            return AlcoholContent {
                by_mass: missing(units::SHARE_OF_MASS, &BY_MASS),
                by_volume: missing(units::SHARE_OF_VOLUME, &BY_VOLUME),
                of_watery_part: missing(units::SHARE_OF_VOLUME, &OF_WATERY),
                shown_to_remain: missing(units::SHARE_OF_VOLUME, &OF_WATERY),
            };
        }
    };
    if let Some(evaporated) = evaluation.evaporated.as_ref().filter(|gone| gone.of_spirit) {
        return after_evaporation(evaluation, evaporated);
    }
    let by_mass_figure = float(ethanol, units::SHARE_OF_MASS, &BY_MASS, inputs);
    let inputs =
        vec![Input::figure("density", &evaluation.density), Input::figure("by mass", &by_mass_figure)];
    // Of nothing but ethanol and water it is that of the two, to the last digit.
    let nothing_else = water.as_ref().is_ok_and(|water| ethanol + water > 1.0 - PRECISION);
    let by_volume_figure = match evaluation.density.known() {
        Ok(_) if nothing_else && ethanol > 0.0 => float(
            by_volume(ethanol.min(1.0), 20.0).unwrap_or(0.0),
            units::SHARE_OF_VOLUME,
            &BY_VOLUME,
            inputs,
        ),
        _ if ethanol == 0.0 => float(0.0, units::SHARE_OF_VOLUME, &NO_ETHANOL, Vec::new()),
        Ok(density) => {
            let value = ethanol * to_f64(density) * 1000.0 / pure_ethanol(20.0);
            float(value, units::SHARE_OF_VOLUME, &BY_VOLUME, inputs)
        }
        Err(unknown) => Figure::unknown_for(unknown, units::SHARE_OF_VOLUME, &BY_VOLUME, inputs),
    };
    let of_watery_part = match water {
        _ if ethanol == 0.0 && evaluation.water.value().is_none() => {
            float(0.0, units::SHARE_OF_VOLUME, &NO_ETHANOL, Vec::new())
        }
        Ok(water) if ethanol + water > 0.0 => {
            let p = if nothing_else { ethanol } else { ethanol / (ethanol + water) }.min(1.0);
            float(by_volume(p, 20.0).unwrap_or(0.0), units::SHARE_OF_VOLUME, &OF_WATERY, Vec::new())
        }
        Ok(_) => Figure::words("no water or alcohol in it", &NEITHER, Vec::new()),
        Err(unknown) => Figure::unknown_for(unknown, units::SHARE_OF_VOLUME, &OF_WATERY, Vec::new()),
    };
    let shown_to_remain = of_watery_part.clone();
    AlcoholContent { by_mass: by_mass_figure, by_volume: by_volume_figure, of_watery_part, shown_to_remain }
}

/// The alcohol where something evaporated: how much of it left nobody knows, but what must remain.
fn after_evaporation(evaluation: &Evaluation, evaporated: &Evaporated) -> AlcoholContent {
    let unmeasured = Unknown::of(format!("alcohol of {} after evaporation (measure it)", evaluation.title));
    let missing = |unit, rule| Figure::unknown_for(unmeasured.clone(), unit, rule, Vec::new());
    let (ethanol, water) = (to_f64(evaporated.ethanol_at_least), to_f64(evaporated.water_at_most));
    let p = if ethanol + water > 0.0 { (ethanol / (ethanol + water)).clamp(0.0, 1.0) } else { 0.0 };
    AlcoholContent {
        by_mass: missing(units::SHARE_OF_MASS, &BY_MASS),
        by_volume: missing(units::SHARE_OF_VOLUME, &BY_VOLUME),
        of_watery_part: missing(units::SHARE_OF_VOLUME, &OF_WATERY),
        shown_to_remain: float(
            by_volume(p, 20.0).unwrap_or(0.0),
            units::SHARE_OF_VOLUME,
            &SHOWN_TO_REMAIN,
            Vec::new(),
        ),
    }
}

fn plus(sum: Result<f64, Unknown>, part: Result<f64, Unknown>) -> Result<f64, Unknown> {
    match (sum, part) {
        (Ok(sum), Ok(part)) => Ok(sum + part),
        (Err(a), Err(b)) => Err(a.and(&b)),
        (Err(unknown), Ok(_)) | (Ok(_), Err(unknown)) => Err(unknown),
    }
}
