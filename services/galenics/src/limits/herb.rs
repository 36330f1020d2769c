//! Limits on a herb: on the dried herb behind what is made, summed over everything of the plant that is in it or was
//! drawn out, fresh or dried.

use rust_decimal::Decimal;
use serde::Serialize;

use super::{
    Verdict,
    check::{OF_LIMIT, lowered},
    held::add,
};
use crate::{Figure, Fraction, HerbEquivalent, Input, Rule, Sourced, Unknown, number::divide, units};

static TOGETHER: Rule = Rule::definition("dried_herb_together", "dried herb is {=} of what is made");

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

/// Holds the herbs that a limit is on against it, together. `None` where there is none of them.
///
/// `herbs` are those of [`crate::Evaluation::herbs`] that belong to the plant; the limit is a share by mass of dried
/// herb in what is made. At the limit is allowed; a herb of which it is not known how much dried herb it makes leaves
/// the verdict unknown.
#[must_use]
pub fn check_herb(herbs: &[&HerbEquivalent], limit: &Sourced<Fraction>) -> Option<HerbCheck> {
    if herbs.is_empty() {
        return None;
    }
    let mut share = Ok(Decimal::ZERO);
    let mut from = Vec::new();
    for herb in herbs {
        // 1000 mg in a gram.
        let part = herb.per_gram.known().and_then(|per_gram| {
            divide(per_gram, Decimal::ONE_THOUSAND).ok_or_else(|| Unknown::of("a share of the herb"))
        });
        if let Ok(part) = &part {
            from.push((herb.material.name.clone(), *part));
        }
        share = add(share, part);
    }
    let most = limit.value.get();
    let used =
        share.clone().and_then(|share| divide(share, most).ok_or_else(|| Unknown::of("a limit above zero")));
    let (verdict, would_pass) = match &share {
        Err(_) => (Verdict::Unknown, Vec::new()),
        Ok(share) if *share > most => (Verdict::Exceeded, lowered(&from, *share, most)),
        Ok(_) => (Verdict::Within, Vec::new()),
    };
    let inputs = herbs.iter().map(|herb| Input::figure(herb.material.name.clone(), &herb.per_gram)).collect();
    let share = Figure::from_result(share, units::SHARE_OF_MASS, &TOGETHER, inputs);
    let inputs = vec![
        Input::figure("share", &share),
        Input::constant("limit", most, units::SHARE_OF_MASS, limit.source.clone()),
    ];
    Some(HerbCheck {
        verdict,
        of_limit: Figure::from_result(used, units::RATIO, &OF_LIMIT, inputs),
        share,
        would_pass,
    })
}
