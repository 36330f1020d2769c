//! The blend of two emulsifiers that meets a required HLB.

use rust_decimal::Decimal;
use serde::Serialize;

use crate::{Figure, Input, Refusal, Rule, number::significant, units};

static HIGH: Rule =
    Rule::definition("blend_high", "share of the higher: ({target} − {low}) / ({high} − {low}) = {=}");
static LOW: Rule = Rule::definition("blend_low", "share of the lower, the rest: {=}");

/// Shares of the two emulsifiers in their blend, by mass; they add up to one.
#[derive(Debug, Clone, Serialize)]
pub struct Blend {
    /// Of the one with the higher HLB.
    pub high: Figure,
    /// Of the one with the lower HLB.
    pub low: Figure,
}

/// The blend of emulsifiers with two HLB values that has a target HLB.
///
/// # Errors
/// Refuses equal values and a target outside the two, and says what would be possible.
/// ```
/// use galenics::{emulsion::blend, number::dec};
/// // Polysorbate 80 (15) and sorbitan oleate (4.3) for 12.
/// let blend = blend(dec("15"), dec("4.3"), dec("12"))?;
/// assert_eq!(blend.high.to_string(), "71.96 % w/w");
/// # Ok::<(), galenics::Refusal>(())
/// ```
pub fn blend(one: Decimal, other: Decimal, target: Decimal) -> Result<Blend, Refusal> {
    for (field, value) in [("one", one), ("other", other), ("target", target)] {
        if value < Decimal::ZERO || value > Decimal::from(50) {
            return Err(Refusal::out_of_range(
                field,
                "An HLB must be 0 to 50; sodium lauryl sulfate has 40.",
            ));
        }
    }
    let (high, low) = if one > other { (one, other) } else { (other, one) };
    if high == low {
        return Err(Refusal::impossible(
            "other",
            format!(
                "Both emulsifiers have HLB {}, and so has every blend of them. Choose two that differ.",
                significant(high, 6)
            ),
        ));
    }
    if target > high || target < low {
        return Err(Refusal::impossible(
            "target",
            format!(
                "The pair reaches HLB {} to {}, but not {}. Choose another pair.",
                significant(low, 6),
                significant(high, 6),
                significant(target, 6)
            ),
        ));
    }
    let share = (target - low).checked_div(high - low).ok_or(Refusal::too_large("target"))?;
    let inputs = || {
        vec![
            Input::number("target", target, units::RATIO),
            Input::number("high", high, units::RATIO),
            Input::number("low", low, units::RATIO),
        ]
    };
    Ok(Blend {
        high: Figure::number(share, units::SHARE_OF_MASS, &HIGH, inputs()),
        low: Figure::number(Decimal::ONE - share, units::SHARE_OF_MASS, &LOW, inputs()),
    })
}
