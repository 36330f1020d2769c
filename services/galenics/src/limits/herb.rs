//! Limits on a herb: on the dried herb behind what is made, summed over everything of it that is in it or was drawn out,
//! fresh or dried.

use serde::Serialize;

use super::{
    check::{lowered, of_limit},
    held::Sum,
    limit::Verdict,
};
use crate::{
    Figure, Fraction, HerbEquivalent, HerbState, Input, Rule, Sourced, Unknown,
    number::divide,
    units::{self, SHARE_OF_MASS},
};
use rust_decimal::Decimal;

static TOGETHER: Rule = Rule::definition("dried_herb_together", "dried herb in the product: {=}");
static AT_LEAST: Rule = Rule::definition(
    "known_dried_herb",
    "known part of the dried herb in the product: {=}; the rest is \
         unknown",
);
static DRIEST: Rule = Rule::definition(
    "driest_herb",
    "{herb} at its driest, {fresh} of water fresh and {dried} when dried: {=}",
);
static LARGEST: Rule = Rule::definition(
    "largest_herb_that_passes",
    "maximum of {material}, as dried herb, if every source of the herb is reduced in proportion: {=}",
);

/// A herb in what is made, as a limit counts it.
#[derive(Debug, Clone)]
pub struct HerbPart<'e> {
    /// What the evaluation says of it.
    pub herb: &'e HerbEquivalent,
    /// Of a fresh herb whose water is known as a range, where the range ends to the dry side.
    pub driest: Option<Driest>,
}

/// A fresh herb at its driest: it makes the most dried herb.
#[derive(Debug, Clone)]
pub struct Driest {
    /// The least water of the fresh herb, w/w.
    pub water: Sourced<Fraction>,
    /// The most water that the dried herb keeps, w/w.
    pub dried_water: Sourced<Fraction>,
}

/// A limit on a herb held against what is made.
#[derive(Debug, Clone, Serialize)]
pub struct HerbCheck {
    /// What it comes to.
    pub verdict: Verdict,
    /// The dried herb as a share by mass of what is made.
    pub share: Figure,
    /// That share as a fraction of the limit.
    pub of_limit: Figure,
    /// Where it is exceeded, for each of the herbs the largest share, as dried herb, that would still pass.
    pub would_pass: Vec<Figure>,
}

impl HerbPart<'_> {
    /// mg of dried herb behind one g of what is made, a range of water counted at its dry end.
    fn per_gram(&self) -> Figure {
        let per_gram = &self.herb.per_gram;
        match (&self.herb.material.herb, &self.driest, per_gram.value()) {
            (
                Some(HerbState::Fresh { water: Some(water), dried_water: Some(dried) }),
                Some(driest),
                Some(middle),
            ) => {
                // m (1 - water) / (1 - water of the dried herb), at the dry end instead of the middle.
                let most = middle
                    .checked_mul(driest.water.value.rest().get())
                    .and_then(|it| it.checked_mul(dried.value.rest().get()))
                    .and_then(|it| divide(it, water.value.rest().get()))
                    .and_then(|it| divide(it, driest.dried_water.value.rest().get()))
                    .ok_or_else(|| Unknown::of(format!("dry matter of {}", self.herb.material.name)));
                let water = |name, of: &Sourced<Fraction>| {
                    Input::constant(name, of.value.get(), SHARE_OF_MASS, of.source.clone())
                };
                let inputs = vec![
                    Input::words("herb", self.herb.material.name.clone()),
                    water("fresh", &driest.water),
                    water("dried", &driest.dried_water),
                    Input::figure("in the middle of both ranges", per_gram),
                ];
                Figure::from_result(most, units::MILLIGRAM_PER_GRAM, &DRIEST, inputs)
            }
            _ => per_gram.clone(),
        }
    }
}

/// Holds the herbs that a limit is on against it, together. `None` where there is none of them.
///
/// `herbs` are those of [`crate::Evaluation::herbs`] that the limit is on, a share by mass of dried herb in what is
/// made. At the limit is allowed. The water of a fresh herb is counted at the end of its range at which it makes the
/// most dried herb. A herb of which it is not known how much dried herb it makes leaves the verdict unknown, unless the
/// others are too much by themselves.
#[must_use]
pub fn check_herb(herbs: &[HerbPart<'_>], limit: &Sourced<Fraction>) -> Option<HerbCheck> {
    if herbs.is_empty() {
        return None;
    }
    let (mut sum, mut from, mut inputs) = (Sum::new(), Vec::new(), Vec::new());
    for part in herbs {
        let per_gram = part.per_gram();
        // 1000 mg in a gram.
        let share = per_gram.known().and_then(|per_gram| {
            divide(per_gram, Decimal::ONE_THOUSAND).ok_or_else(|| Unknown::of("a share of the herb"))
        });
        if let Ok(share) = &share {
            from.push((part.herb.material.name.clone(), *share));
        }
        inputs.push(Input::figure(part.herb.material.name.clone(), &per_gram));
        sum.add(share);
    }
    let most = limit.value.get();
    let (verdict, share) = (sum.against(most), sum.counted(most));
    let would_pass = match &share {
        Ok(share) if verdict == Verdict::Exceeded && !sum.is_at_least() => {
            lowered(&LARGEST, &from, *share, most)
        }
        _ => Vec::new(),
    };
    let of_limit = of_limit(&share, most, &limit.source);
    let rule = if sum.is_at_least() { &AT_LEAST } else { &TOGETHER };
    let share = Figure::from_result(share, SHARE_OF_MASS, rule, inputs);
    Some(HerbCheck { verdict, share, of_limit, would_pass })
}
