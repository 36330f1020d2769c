//! From amounts as written to grams: quantities through their units and densities, shares through the
//! whole, q.s. as what is left.

mod lines;
mod plan;
mod whole;

use rust_decimal::Decimal;

use crate::{Formula, FormulaProblem, Location, ProblemKind};

use self::plan::{Plan, Whole};
use super::sums::Sums;
use super::{
    herb_ratio,
    weigh::{Charge, Weighed},
};

/// What a q.s. line makes the whole up to.
#[derive(Clone, Copy)]
pub(super) struct MadeUpTo {
    /// In g.
    pub(super) mass: Option<Decimal>,
    /// In mL.
    pub(super) volume: Option<Decimal>,
}

/// The mass of every line, and what a q.s. line makes up to: it is known even where a line is not.
pub(super) fn resolve(
    formula: &Formula,
    charges: &[Charge<'_>],
) -> Result<(Vec<Weighed>, MadeUpTo), Vec<FormulaProblem>> {
    let plan = Plan::read(formula, charges)?;
    let out_of_range =
        || vec![FormulaProblem { at: Location::formula("phases"), kind: ProblemKind::OutOfRange }];
    let first: Vec<Option<Weighed>> = charges
        .iter()
        .map(|charge| plan.absolute(formula, charge))
        .collect::<Option<_>>()
        .ok_or_else(out_of_range)?;
    let sums = Sums::of(charges, &first).ok_or_else(out_of_range)?;
    let whole = plan.whole_mass(formula, charges, &sums)?;
    let made_up_to = MadeUpTo {
        mass: match plan.whole {
            Whole::Mass(mass) => Some(mass),
            Whole::Volume(_) | Whole::Lines => None,
        },
        volume: plan.volume.filter(|_| plan.make_up.is_some()),
    };
    let mut weighed = Vec::with_capacity(charges.len());
    for (charge, first) in charges.iter().zip(first) {
        weighed.push(match first {
            Some(first) => first,
            None if charge.herb_ratio().is_some() => Weighed::to_come(),
            None => plan.relative(charge, &whole, &sums, charges)?.ok_or_else(out_of_range)?,
        });
    }
    herb_ratio::put(formula, charges, &mut weighed)?;
    Ok((weighed, made_up_to))
}
