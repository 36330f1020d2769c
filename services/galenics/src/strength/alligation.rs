//! Alligation: the mean strength of what is mixed, and the parts in which two strengths make a third.
//! No contraction; with alcohol the parts are right by mass, or by volume only nearly.

use rust_decimal::Decimal;
use serde::Serialize;

use crate::{
    Figure, Fraction, Input, Refusal, Rule,
    number::{HUNDRED, significant},
    units,
};

static MEAN: Rule = Rule::definition("alligation_medial", "the portions together are {=}");
static STRONGER: Rule = Rule::definition(
    "alligation_stronger",
    "parts of the stronger: {wanted} less the weaker {weaker}, of {stronger} less {weaker}, is {=}",
);
static WEAKER: Rule = Rule::definition(
    "alligation_weaker",
    "parts of the weaker: the stronger {stronger} less {wanted}, of {stronger} less {weaker}, is {=}",
);

/// A portion of a strength, amounts all in one unit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Portion {
    /// How much.
    pub amount: Decimal,
    /// How strong.
    pub strength: Fraction,
}

/// Alligation medial: the strength of portions mixed together.
///
/// # Errors
/// Refuses no portions, negative ones and ones that add up to nothing.
pub fn mean_strength(portions: &[Portion]) -> Result<Figure, Refusal> {
    let (mut sum, mut pure) = (Decimal::ZERO, Decimal::ZERO);
    for portion in portions {
        if portion.amount < Decimal::ZERO {
            return Err(Refusal::out_of_range("portions", "a portion cannot be negative"));
        }
        let part = portion.amount.checked_mul(portion.strength.get());
        sum = sum.checked_add(portion.amount).ok_or(Refusal::too_large("portions"))?;
        pure = part.and_then(|part| pure.checked_add(part)).ok_or(Refusal::too_large("portions"))?;
    }
    let mean = pure
        .checked_div(sum)
        .ok_or(Refusal::out_of_range("portions", "give at least one portion above 0"))?;
    let inputs = portions
        .iter()
        .flat_map(|portion| {
            [
                Input::number("amount", portion.amount, units::RATIO),
                Input::number("strength", portion.strength.get(), units::SHARE),
            ]
        })
        .collect();
    Ok(Figure::number(mean, units::SHARE, &MEAN, inputs))
}

/// The shares of the stronger and the weaker in what is made; they add up to one.
#[derive(Debug, Clone, Serialize)]
pub struct Alligation {
    /// The share of the stronger.
    pub stronger: Figure,
    /// The share of the weaker.
    pub weaker: Figure,
}

/// Alligation alternate: in what shares two strengths make a third between them.
///
/// # Errors
/// Refuses equal strengths and a target outside the two, and says what would be possible.
/// ```
/// use galenics::{Fraction, number::dec, strength::alligate};
/// let percent = |value| Fraction::percent(dec(value)).expect("a share");
/// let parts = alligate(percent("95"), percent("30"), percent("70"))?;
/// // 40 parts to 25.
/// assert_eq!(parts.stronger.to_string(), "61.54 %");
/// # Ok::<(), galenics::Refusal>(())
/// ```
pub fn alligate(one: Fraction, other: Fraction, wanted: Fraction) -> Result<Alligation, Refusal> {
    let (stronger, weaker) = if one > other { (one.get(), other.get()) } else { (other.get(), one.get()) };
    let percent = |share: Decimal| significant(share * HUNDRED, 6);
    if stronger == weaker {
        return Err(Refusal::impossible(
            "strengths",
            format!("both are {} %, and together they make nothing else", percent(stronger)),
        ));
    }
    if wanted.get() > stronger || wanted.get() < weaker {
        return Err(Refusal::impossible(
            "wanted",
            format!(
                "{} % and {} % make any strength between them, but not {} %",
                percent(stronger),
                percent(weaker),
                percent(wanted.get())
            ),
        ));
    }
    let share =
        (wanted.get() - weaker).checked_div(stronger - weaker).ok_or(Refusal::too_large("strengths"))?;
    let inputs = || {
        vec![
            Input::number("stronger", stronger, units::SHARE),
            Input::number("weaker", weaker, units::SHARE),
            Input::number("wanted", wanted.get(), units::SHARE),
        ]
    };
    Ok(Alligation {
        stronger: Figure::number(share, units::SHARE, &STRONGER, inputs()),
        weaker: Figure::number(Decimal::ONE - share, units::SHARE, &WEAKER, inputs()),
    })
}
