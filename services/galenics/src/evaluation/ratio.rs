//! One share over another, in words where there is nothing to compare with.

use rust_decimal::Decimal;

use crate::{Figure, Input, Rule, Unknown, number::divide, units};

static NOTHING_BESIDE: Rule = Rule::definition("nothing_to_compare_with", "the product has {=}");
static OIL_TO_WATER: Rule = Rule::definition("oil_to_water", "{oil} oil to {water} water by mass: {=} to 1");

/// Oil over water.
pub(super) fn ratio_of(oil: &Figure, water: &Figure) -> Figure {
    ratio(("oil", &oil.known()), ("water", &water.known()), &OIL_TO_WATER)
}

pub(super) fn ratio(
    (part_name, part): (&'static str, &Result<Decimal, Unknown>),
    (whole_name, whole): (&'static str, &Result<Decimal, Unknown>),
    rule: &'static Rule,
) -> Figure {
    match (part, whole) {
        (Ok(part), Ok(whole)) => {
            let inputs = vec![
                Input::number(part_name, *part, units::SHARE_OF_MASS),
                Input::number(whole_name, *whole, units::SHARE_OF_MASS),
            ];
            match divide(*part, *whole) {
                Some(value) => Figure::number(value, units::RATIO, rule, inputs),
                None => Figure::words(format!("no {whole_name} in it"), &NOTHING_BESIDE, inputs),
            }
        }
        (Err(a), Err(b)) => Figure::unknown_for(a.and(b), units::RATIO, rule, Vec::new()),
        (Err(unknown), Ok(_)) | (Ok(_), Err(unknown)) => {
            Figure::unknown_for(unknown.clone(), units::RATIO, rule, Vec::new())
        }
    }
}
