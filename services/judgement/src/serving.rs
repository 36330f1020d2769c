//! How much of a product is used at once and in a day, and what that is in the litre: a tea by the cup, a bath by the
//! litre. It says what is in it, never what anybody should take.

use galenics::{
    Customary, Decimal, Dimension, Evaluation, Figure, Input, Mass, Measure, Quantity, Rule, Unknown, Volume,
    units,
};

use crate::figures::Detail;
use crate::meant::amount_used;
use crate::written::{Dropper, Serving, Written};

static AS_WEIGHED: Rule = Rule::definition("serving_by_mass", "serving of {amount}: {=}");

static PER_LITRE: Rule = Rule::definition("serving_per_litre", "{serving} in {volume}: {=}");
static A_DAY: Rule = Rule::definition("serving_a_day", "{times} × {serving} a day = {=}");
static HERB: Rule = Rule::definition("dried_herb_in_serving", "dried herb in {serving} at {herb}: {=}");

static BY_VOLUME: Rule =
    Rule::definition("serving_by_volume", "serving of {amount}, {volume} at {density}: {=}");

/// A serving as an author states it, understood.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Served {
    /// How much of the product.
    pub amount: Quantity,
    /// What it is put into.
    pub to: Option<Volume>,
    /// How often in a day.
    pub a_day: Option<u8>,
}

/// Reads a serving, household measures within the family of the formula.
///
/// # Errors
/// Returns the refused field with a sentence for the user.
pub fn serving(written: &Serving, customary: Customary) -> Result<Served, (&'static str, &'static str)> {
    let amount = amount_used(&written.amount, customary)
        .ok_or(("amount", "Enter how much is used at once, such as 2 g, 10 mL, 2 tsp or 30 drops."))?;
    let volume = |text: &str| Quantity::parse_with(text, customary).ok().and_then(|typed| typed.volume(None));
    let to = written.to.as_deref().map(|text| {
        volume(text)
            .filter(|to| !to.ml().is_zero())
            .ok_or(("to", "Enter the volume of liquid that it is added to, such as 150 mL or 20 L."))
    });
    if written.a_day.is_some_and(|times| !(1..=24).contains(&times)) {
        return Err(("a_day", "Enter the number of uses a day, from 1 to 24."));
    }
    Ok(Served { amount, to: to.transpose()?, a_day: written.a_day })
}

/// An amount of the product in g: as weighed, or by the density of the product and the drops of its kind.
fn in_grams(amount: &Quantity, evaluation: &Evaluation, dropper: Option<&Dropper>) -> Figure {
    let mut inputs = vec![Input::words("amount", amount.typed())];
    if let Measure::Mass(mass) = amount.measure() {
        return Figure::number(mass.g(), units::GRAM, &AS_WEIGHED, inputs);
    }
    let drops = dropper.and_then(|of| of.of_preparation(evaluation.preparation));
    if let (Measure::Drops { per_ml: None, .. }, Some(drops)) = (amount.measure(), &drops) {
        inputs.push(Input::constant("drops per mL", drops.value, units::RATIO, drops.source.clone()));
    }
    let Some(volume) = amount.volume(drops.map(|drops| drops.value)) else {
        let missing = format!("drops per mL of {} (write 30 drops at 20 per mL)", evaluation.title);
        return Figure::unknown_for(Unknown::of(missing), units::GRAM, &BY_VOLUME, inputs);
    };
    inputs.push(Input::number("volume", volume.ml(), units::MILLILITRE));
    inputs.push(Input::figure("density", &evaluation.density));
    let mass = evaluation.density.known().and_then(|density| {
        volume.ml().checked_mul(density).ok_or_else(|| Unknown::of("an amount within the range of a decimal"))
    });
    Figure::from_result(mass, units::GRAM, &BY_VOLUME, inputs)
}

/// The largest mass used in a day of a product with this evaluation: as the author stated, else a serving as often as the
/// author said. `None` where that was measured by volume and the density is not known.
#[must_use]
pub(crate) fn used_daily(written: &Written, evaluation: &Evaluation) -> Option<Mass> {
    let grams = |text: &str| {
        let typed = amount_used(text, written.customary.into())?;
        in_grams(&typed, evaluation, written.dropper.as_ref()).value()
    };
    if let Some(stated) = &written.content.used_daily {
        return Mass::grams(grams(stated)?).ok();
    }
    let serving = written.content.serving.as_ref()?;
    Mass::grams(grams(&serving.amount)?.checked_mul(serving.a_day?.into())?).ok()
}

impl Served {
    /// What a serving comes to, of a product with this evaluation.
    #[must_use]
    pub fn figures(
        &self,
        evaluation: &Evaluation,
        dropper: Option<&Dropper>,
        detail: Detail,
    ) -> Vec<wire::figure::Figure> {
        let at_once = in_grams(&self.amount, evaluation, dropper);
        let weighed = self.amount.dimension() == Dimension::Mass;
        let amount = at_once.known();
        let serving = || match at_once.value() {
            Some(grams) if weighed => Input::number("serving", grams, units::GRAM),
            _ => Input::figure("serving", &at_once),
        };
        let times = |by: Decimal| {
            let grams = amount.clone()?;
            grams.checked_mul(by).ok_or_else(|| Unknown::of("an amount within the range of a decimal"))
        };
        let mut out = Vec::new();
        if !weighed {
            out.push(detail.figure("serving", &at_once));
        }
        if let Some(to) = self.to {
            let value = times(Decimal::ONE_THOUSAND).and_then(|above| {
                above.checked_div(to.ml()).ok_or_else(|| Unknown::of("a volume above 0 mL"))
            });
            let inputs = vec![serving(), Input::number("volume", to.ml(), units::MILLILITRE)];
            let of = Figure::from_result(value, units::GRAM_PER_LITRE, &PER_LITRE, inputs);
            out.push(detail.figure("per litre", &of));
        }
        if let Some(often) = self.a_day {
            let inputs = vec![serving(), Input::number("times", often.into(), units::RATIO)];
            let of = Figure::from_result(times(often.into()), units::GRAM, &A_DAY, inputs);
            out.push(detail.figure("used in a day", &of));
        }
        for herb in &evaluation.herbs {
            let value = herb.per_gram.known().and_then(&times);
            let inputs = vec![serving(), Input::figure("herb", &herb.per_gram)];
            let of = Figure::from_result(value, units::MILLIGRAM, &HERB, inputs);
            out.push(detail.figure(format!("dried herb in a serving: {}", herb.material.name), &of));
        }
        out
    }
}
