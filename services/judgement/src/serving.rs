//! How much of a product is used at once and in a day, and what that is in the litre: a tea by the cup, a bath by the
//! litre. It says what is in it, never what anybody should take.

use galenics::{Decimal, Evaluation, Figure, Input, Mass, Quantity, Rule, Unknown, Volume, units};

use crate::figures::Detail;
use crate::meant::mass;
use crate::written::Serving;

static PER_LITRE: Rule = Rule::definition("serving_per_litre", "{serving} in {volume}: {=}");
static A_DAY: Rule = Rule::definition("serving_a_day", "{times} × {serving} a day = {=}");
static HERB: Rule = Rule::definition("dried_herb_in_serving", "dried herb in {serving} at {herb}: {=}");

/// A serving as an author states it, understood.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Served {
    /// How much of the product.
    pub amount: Mass,
    /// What it is put into.
    pub to: Option<Volume>,
    /// How often in a day.
    pub a_day: Option<u8>,
}

/// Reads a serving.
///
/// # Errors
/// Returns the refused field with a sentence for the user.
pub fn serving(written: &Serving) -> Result<Served, (&'static str, &'static str)> {
    let amount = mass(&written.amount).ok_or((
        "amount",
        "Enter the mass used at once, such as 2 g. Weigh one spoonful if you measure by spoon.",
    ))?;
    let to =
        written.to.as_deref().map(|text| Quantity::parse(text).ok().and_then(|typed| typed.volume(None)));
    let to = to.map(|to| {
        to.ok_or((
            "to",
            "Enter the volume of liquid that it is added to, such as 150 mL or \
         20 L.",
        ))
    });
    if written.a_day.is_some_and(|times| !(1..=24).contains(&times)) {
        return Err(("a_day", "Enter the number of uses a day, from 1 to 24."));
    }
    Ok(Served { amount, to: to.transpose()?, a_day: written.a_day })
}

impl Served {
    /// What a serving comes to, of a product with this evaluation.
    #[must_use]
    pub fn figures(&self, evaluation: &Evaluation, detail: Detail) -> Vec<wire::figure::Figure> {
        let amount = self.amount.g();
        let serving = || Input::number("serving", amount, units::GRAM);
        let too_large = || Unknown::of("an amount within the range of a decimal");
        let mut out = Vec::new();
        if let Some(to) = self.to {
            let value =
                amount.checked_mul(Decimal::ONE_THOUSAND).and_then(|above| above.checked_div(to.ml()));
            let inputs = vec![serving(), Input::number("volume", to.ml(), units::MILLILITRE)];
            let of =
                Figure::from_result(value.ok_or_else(too_large), units::GRAM_PER_LITRE, &PER_LITRE, inputs);
            out.push(detail.figure("per litre", &of));
        }
        if let Some(times) = self.a_day {
            let value = amount.checked_mul(times.into());
            let inputs = vec![serving(), Input::number("times", times.into(), units::RATIO)];
            let of = Figure::from_result(value.ok_or_else(too_large), units::GRAM, &A_DAY, inputs);
            out.push(detail.figure("used in a day", &of));
        }
        for herb in &evaluation.herbs {
            let value =
                herb.per_gram.known().and_then(|per_gram| per_gram.checked_mul(amount).ok_or_else(too_large));
            let inputs = vec![serving(), Input::figure("herb", &herb.per_gram)];
            let of = Figure::from_result(value, units::MILLIGRAM, &HERB, inputs);
            out.push(detail.figure(format!("dried herb in a serving: {}", herb.material.name), &of));
        }
        out
    }
}
