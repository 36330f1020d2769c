//! Wax and solid fat against the oil that they stiffen, and what holds oil and water together.

use rust_decimal::Decimal;

use super::{
    ratio::ratio,
    result::{Evaluation, Leaf},
};
use crate::{Figure, MaterialKind, Rule, Unknown};

static WAX_TO_OIL: Rule = Rule::definition("wax_to_oil", "{wax} of wax to {oil} of oil: {=} to 1");
static FAT_TO_OIL: Rule = Rule::definition("fat_to_oil", "{fat} of solid fat to {oil} of oil: {=} to 1");
static EMULSIFIER_TO_OIL: Rule =
    Rule::definition("emulsifier_to_oil", "{emulsifier} of emulsifier to {oil} of other oil: {=} to 1");
static WAX_EMULSIFIES: Rule = Rule::definition(
    "wax_emulsifies",
    "the wax is the only emulsifier: {wax} of wax to {oil} of other oil, {=} to 1",
);

/// The share of some kinds of material in a composition.
fn of_kinds(composition: &[Leaf], counts: fn(MaterialKind) -> bool) -> Result<Decimal, Unknown> {
    let mut sum = Decimal::ZERO;
    for leaf in composition.iter().filter(|leaf| counts(leaf.material.kind)) {
        sum += leaf.share.known()?;
    }
    Ok(sum)
}

/// Waxes, with the fatty alcohols and acids that stiffen as they do.
const fn is_wax(kind: MaterialKind) -> bool {
    matches!(kind, MaterialKind::Wax | MaterialKind::FattyAlcohol | MaterialKind::FattyAcid)
}

/// What they stiffen.
const fn is_soft(kind: MaterialKind) -> bool {
    matches!(kind, MaterialKind::FixedOil | MaterialKind::Hydrocarbon)
}

const fn is_fat(kind: MaterialKind) -> bool {
    matches!(kind, MaterialKind::Butter)
}

impl Evaluation {
    /// Wax over the oil that it stiffens; nothing where there is no wax.
    #[must_use]
    pub fn wax_to_oil(&self) -> Option<Figure> {
        self.to_oil("wax", is_wax, &WAX_TO_OIL)
    }

    /// Butters and other solid fats over the oil beside them; nothing where there is no such fat.
    #[must_use]
    pub fn fat_to_oil(&self) -> Option<Figure> {
        self.to_oil("fat", is_fat, &FAT_TO_OIL)
    }

    fn to_oil(
        &self,
        name: &'static str,
        counts: fn(MaterialKind) -> bool,
        rule: &'static Rule,
    ) -> Option<Figure> {
        let there = self.composition.iter().any(|leaf| counts(leaf.material.kind));
        let part = of_kinds(&self.composition, counts);
        there.then(|| ratio((name, &part), ("oil", &of_kinds(&self.composition, is_soft)), rule))
    }
}

/// Emulsifier over the oil beside it. Where nothing else emulsifies, and there is oil and water, wax does.
pub(super) fn emulsifier_to_oil(
    composition: &[Leaf],
    (emulsifier, emulsifying_oil): (&Figure, &Figure),
    oil: &Figure,
    water: &Figure,
) -> Figure {
    let wax = of_kinds(composition, |kind| kind == MaterialKind::Wax);
    let some = |share: Option<Decimal>| share.is_some_and(|share| !share.is_zero());
    let none = emulsifier.value().is_some_and(|share| share.is_zero());
    if none && some(water.value()) && some(wax.as_ref().ok().copied()) {
        let beside = oil.known().and_then(|oil| Ok(oil - wax.clone()?));
        return ratio(("wax", &wax), ("oil", &beside), &WAX_EMULSIFIES);
    }
    let beside = oil.known().and_then(|oil| Ok(oil - emulsifying_oil.known()?));
    ratio(("emulsifier", &emulsifier.known()), ("oil", &beside), &EMULSIFIER_TO_OIL)
}
