//! What is left when water boils off: everything that stays is the stronger for it.

use rust_decimal::Decimal;

use super::{
    figures::ratio_of,
    result::{Evaluation, HerbEquivalent, Leaf},
};
use crate::{Figure, Input, Mass, Refusal, Rule, Unknown, number::divide, units};

static LESS: Rule =
    Rule::definition("mass_after_evaporation", "{before} less {evaporated} boiled off is {=}");
static SHARE: Rule =
    Rule::definition("share_after_evaporation", "of {after} it is {=}, where it was {share} of {before}");
static HERB: Rule = Rule::definition("herb_after_evaporation", "{per gram} in {before} are {=} in {after}");

impl Evaluation {
    /// The same when so much water has boiled off what is made. Volume and density are unknown then, until they
    /// are measured.
    ///
    /// # Errors
    /// Refuses when the mass made or the water in it is not known, and to boil off more water than there is.
    pub fn concentrated(&self, evaporated: Mass) -> Result<Self, Refusal> {
        if evaporated.g().is_zero() {
            return Ok(self.clone());
        }
        let unknown = |unknown: Unknown| Refusal::unknown("evaporated", &unknown);
        let before = self.product.known().map_err(unknown)?;
        let water = self.water.known().map_err(unknown)?;
        let gone = evaporated.g();
        let there = before.checked_mul(water).ok_or(Refusal::too_large("evaporated"))?;
        if gone > there || gone >= before {
            return Err(Refusal::impossible(
                "evaporated",
                format!("there are only {} g of water to boil off", there.round_dp(3).normalize()),
            ));
        }
        let after = before - gone;
        let stronger = divide(before, after).ok_or(Refusal::too_large("evaporated"))?;
        let left = divide(there - gone, there).ok_or(Refusal::too_large("evaporated"))?;
        let raise = |figure: &Figure, by: Decimal, rule, name: &'static str| {
            let value =
                figure.known().and_then(|value| value.checked_mul(by).ok_or_else(|| Unknown::of("share")));
            let inputs = vec![
                Input::figure(name, figure),
                Input::number("before", before, units::GRAM),
                Input::number("after", after, units::GRAM),
            ];
            Figure::from_result(value, figure.unit(), rule, inputs)
        };
        let mut made = self.clone();
        made.composition = self
            .composition
            .iter()
            .map(|leaf| {
                let by = if leaf.material.kind.is_water() { stronger * left } else { stronger };
                Leaf { material: leaf.material.clone(), share: raise(&leaf.share, by, &SHARE, "share") }
            })
            .collect();
        made.herbs = self
            .herbs
            .iter()
            .map(|herb| HerbEquivalent {
                material: herb.material.clone(),
                per_gram: raise(&herb.per_gram, stronger, &HERB, "per gram"),
            })
            .collect();
        made.oil = raise(&self.oil, stronger, &SHARE, "share");
        made.water = raise(&self.water, stronger * left, &SHARE, "share");
        made.emulsifier = raise(&self.emulsifier, stronger, &SHARE, "share");
        made.emulsifying_oil = raise(&self.emulsifying_oil, stronger, &SHARE, "share");
        made.oil_to_water = ratio_of(&made.oil, &made.water);
        let inputs = vec![
            Input::number("before", before, units::GRAM),
            Input::number("evaporated", gone, units::GRAM),
        ];
        made.product = Figure::number(after, units::GRAM, &LESS, inputs);
        let unmeasured = Unknown::of(format!("density of {} after evaporation", self.title));
        made.density = self.density.unknown_from_here(unmeasured.clone());
        made.volume = self.volume.unknown_from_here(unmeasured);
        Ok(made)
    }
}
