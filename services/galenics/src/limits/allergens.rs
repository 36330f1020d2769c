//! The fragrance allergens that a label must name: each whose share is strictly above a threshold, which
//! differs between what stays on the skin and what is rinsed off. Named oils are declared besides what they
//! hold.

use rust_decimal::Decimal;
use serde::Serialize;

use super::{
    held::{Held, Holding, Sum},
    limit::{Exposure, Subject, Verdict},
    profile::Profile,
};
use crate::{Figure, Fraction, Input, Leaf, Rule, Source, Text, Unknown, units};

static SHARE: Rule =
    Rule::definition("share_of_allergen", "allergen in the product, at the top of each range: {=}");

static AT_LEAST: Rule = Rule::definition(
    "known_share_of_allergen",
    "known part of the allergen in the product: {=}; the rest is unknown",
);

fn rule(sum: &Sum) -> &'static Rule {
    if sum.is_at_least() { &AT_LEAST } else { &SHARE }
}

/// An allergen, as data.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Allergen {
    /// The substance, or the oil as such.
    pub subject: Subject,
    /// The name for the label.
    pub label_name: Text,
    /// Declared above this share in what stays on the skin.
    pub leave_on_above: Fraction,
    /// Declared above this share in what is rinsed off.
    pub rinse_off_above: Fraction,
    /// Where it comes from.
    pub source: Source,
}

/// An allergen that is in what is made.
#[derive(Debug, Clone, Serialize)]
pub struct Declaration {
    /// The name for the label.
    pub label_name: Text,
    /// Its share by mass.
    pub share: Figure,
    /// Whether the label must name it; nothing where its share is not known.
    pub declare: Option<bool>,
    /// Where the rule comes from.
    pub source: Source,
}

/// The allergens in what is made, each with whether the label must name it.
#[must_use]
pub fn declare_allergens(
    composition: &[Leaf],
    profiles: &[Profile],
    allergens: &[Allergen],
    exposure: Exposure,
) -> Vec<Declaration> {
    let held = Held::of(composition, profiles);
    allergens
        .iter()
        .filter_map(|allergen| {
            let mut sum = Sum::new();
            let mut inputs = Vec::new();
            let mut there = false;
            let mut take = |leaf: &Leaf, part: Result<Decimal, Unknown>| {
                there = true;
                if let Ok(part) = &part {
                    inputs.push(Input::number(leaf.material.name.clone(), *part, units::SHARE_OF_MASS));
                }
                sum.add(part);
            };
            match &allergen.subject {
                Subject::Material(id) => {
                    if let Some(leaf) = held.material(id) {
                        take(leaf, leaf.share.known());
                    }
                }
                Subject::Substance(id) => {
                    let as_is = |holding: &&Holding<'_>| holding.constituent.is_none_or(|held| !held.as_acid);
                    for holding in held.substance(id).iter().filter(as_is) {
                        take(holding.leaf, holding.part(&allergen.label_name));
                    }
                }
            }
            let threshold = match exposure {
                Exposure::RinseOff => allergen.rinse_off_above,
                Exposure::LeaveOn
                | Exposure::SunProduct
                | Exposure::ByMouth
                | Exposure::Inhaled
                | Exposure::Mucosa => allergen.leave_on_above,
            };
            there.then(|| Declaration {
                label_name: allergen.label_name.clone(),
                declare: match sum.against(threshold.get()) {
                    Verdict::Exceeded | Verdict::Prohibited => Some(true),
                    Verdict::Within => Some(false),
                    Verdict::Unknown | Verdict::NotCovered => None,
                },
                share: Figure::from_result(
                    sum.counted(threshold.get()),
                    units::SHARE_OF_MASS,
                    rule(&sum),
                    inputs,
                ),
                source: allergen.source.clone(),
            })
        })
        .collect()
}
