//! Alligation: the mean strength of what is mixed, and the parts in which two strengths make a third.
//! No contraction; with alcohol the parts are right by mass, or by volume only nearly.

use rust_decimal::Decimal;
use serde::Serialize;

use crate::{
    Figure, Fraction, Input, Refusal, Rule,
    number::{HUNDRED, significant},
    units,
};

static MEAN: Rule = Rule::definition("alligation_medial", "strength of the mixture: {=}");
static STRONGER: Rule = Rule::definition(
    "alligation_stronger",
    "share of the stronger: ({wanted} − {weaker}) / ({stronger} − {weaker}) = {=}",
);
static WEAKER: Rule = Rule::definition(
    "alligation_weaker",
    "share of the weaker: ({stronger} − {wanted}) / ({stronger} − {weaker}) = {=}",
);

static PARTS: Rule = Rule::definition(
    "alligation_parts",
    "parts of {strength}, from its pair on the other side of {wanted}: {=}",
);
static SHARE: Rule = Rule::definition("alligation_share", "{parts} of {all} parts: {=}");
static TO_ADD: Rule =
    Rule::definition("alligation_to_add", "added to {given}, which is {share} of the whole: {=}");

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
            return Err(Refusal::out_of_range("portions", "A portion must not be negative."));
        }
        let part = portion.amount.checked_mul(portion.strength.get());
        sum = sum.checked_add(portion.amount).ok_or(Refusal::too_large("portions"))?;
        pure = part.and_then(|part| pure.checked_add(part)).ok_or(Refusal::too_large("portions"))?;
    }
    let mean = pure
        .checked_div(sum)
        .ok_or(Refusal::out_of_range("portions", "Enter at least one portion above 0."))?;
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
            format!(
                "Both strengths are {} %, so a mixture has the same strength. Enter two that differ.",
                percent(stronger)
            ),
        ));
    }
    if wanted.get() > stronger || wanted.get() < weaker {
        return Err(Refusal::impossible(
            "wanted",
            format!(
                "{} % and {} % make only strengths between them, not {} %.",
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

/// How much of one strength is put to so much of another, where their shares of the whole are known.
///
/// # Errors
/// Refuses a given portion that has no part in the whole.
pub fn to_add(given: Decimal, unit: &'static str, share: &Figure, other: &Figure) -> Result<Figure, Refusal> {
    let (share_value, other_value) = (share.value().unwrap_or_default(), other.value().unwrap_or_default());
    let none = || {
        Refusal::impossible(
            "given",
            "The strength wanted is that of the other portion alone. Choose a strength between the two.",
        )
    };
    let value =
        given.checked_mul(other_value).and_then(|above| above.checked_div(share_value)).ok_or_else(none)?;
    let inputs = vec![Input::number("given", given, unit), Input::figure("share", share)];
    Ok(Figure::number(value, unit, &TO_ADD, inputs))
}

/// The fewest and the most strengths that are mixed at once.
const MANY: std::ops::RangeInclusive<usize> = 2..=20;

/// What one of several strengths takes part with.
#[derive(Debug, Clone, Serialize)]
pub struct Alternate {
    /// So many parts, in the unit of the strengths as per cent.
    pub parts: Figure,
    /// Its share of the whole.
    pub share: Figure,
}

/// Alligation alternate of several strengths, in the order given: the strongest is paired with the weakest, the next
/// with the next, and what is left over with the last of the other side. Other proportions make the same strength; this
/// is the one that is worked out by hand.
///
/// # Errors
/// Refuses fewer than two or more than twenty strengths, a strength that is wanted already, and a target that all of them
/// lie above or below.
/// ```
/// use galenics::{Fraction, number::dec, strength::alligate_many};
/// let percent = |value| Fraction::percent(dec(value)).expect("a share");
/// // Ointments of 20, 15, 5 and 3 % for one of 10 %: 7, 5, 5 and 10 parts.
/// let found = alligate_many(&["20", "15", "5", "3"].map(percent), percent("10"))?;
/// let parts: Vec<String> = found.iter().map(|of| of.parts.to_string()).collect();
/// assert_eq!(parts, ["7", "5", "5", "10"]);
/// # Ok::<(), galenics::Refusal>(())
/// ```
pub fn alligate_many(strengths: &[Fraction], wanted: Fraction) -> Result<Vec<Alternate>, Refusal> {
    let percent = |share: Fraction| significant(share.get() * HUNDRED, 6);
    if !MANY.contains(&strengths.len()) {
        return Err(Refusal::out_of_range("strengths", "Enter 2 to 20 strengths."));
    }
    if strengths.contains(&wanted) {
        return Err(Refusal::impossible(
            "strengths",
            format!(
                "A strength of {} % is already the one wanted. Omit it; any amount of it may be added.",
                percent(wanted)
            ),
        ));
    }
    let side = |above: bool| {
        let mut side: Vec<(usize, Fraction)> =
            strengths.iter().copied().enumerate().filter(|(_, of)| (*of > wanted) == above).collect();
        side.sort_by_key(
            |(_, of)| if above { std::cmp::Reverse(of.get()) } else { std::cmp::Reverse(-of.get()) },
        );
        side
    };
    let (above, below) = (side(true), side(false));
    let (Some(last_above), Some(last_below)) = (above.last(), below.last()) else {
        let given: Vec<String> = strengths.iter().map(|of| format!("{} %", percent(*of))).collect();
        return Err(Refusal::impossible(
            "wanted",
            format!(
                "{} make only strengths between the least and the greatest, not {} %.",
                given.join(", "),
                percent(wanted)
            ),
        ));
    };
    let mut parts = vec![Decimal::ZERO; strengths.len()];
    for pair in 0..above.len().max(below.len()) {
        let (strong, weak) = (above.get(pair).unwrap_or(last_above), below.get(pair).unwrap_or(last_below));
        if let Some(of) = parts.get_mut(strong.0) {
            *of += (wanted.get() - weak.1.get()) * HUNDRED;
        }
        if let Some(of) = parts.get_mut(weak.0) {
            *of += (strong.1.get() - wanted.get()) * HUNDRED;
        }
    }
    let all: Decimal = parts.iter().sum();
    let alternate = |(parts, strength): (&Decimal, &Fraction)| {
        let inputs = vec![
            Input::number("wanted", wanted.get(), units::SHARE),
            Input::number("strength", strength.get(), units::SHARE),
        ];
        let figure = Figure::number(*parts, units::RATIO, &PARTS, inputs);
        let share = parts.checked_div(all).ok_or(Refusal::too_large("strengths"))?;
        let inputs = vec![Input::figure("parts", &figure), Input::number("all", all, units::RATIO)];
        Ok(Alternate { share: Figure::number(share, units::SHARE, &SHARE, inputs), parts: figure })
    };
    parts.iter().zip(strengths).map(alternate).collect()
}
