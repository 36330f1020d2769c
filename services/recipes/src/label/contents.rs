//! Ingredients of a label in their legal order, and the allergens it must declare.

use std::cmp::Reverse;
use std::collections::HashMap;

use galenics::{Decimal, MaterialFacts, MaterialKind};
use materia::{Holds, Materia, Material};
use wire::formulary::Regime;
use wire::label::{LabelAllergen, LabelFact, LabelIngredient, LabelIngredients, LabelOrigin};

use super::sheet::Sheet;
use judgement::figures::figure_source;

/// The materials at every level, by the ID that the calculations use.
type Known<'a> = HashMap<String, &'a Material>;

/// Collects the materials of a label.
pub(super) fn known<'a>(sheet: &Sheet<'a>) -> Known<'a> {
    let all = &sheet.whole.materials;
    all.iter().map(|((id, _), material)| (id.to_string(), material.as_ref())).collect()
}

/// Alcohol by volume and the ratio of herb to liquid, of a kind that always holds alcohol.
///
/// The ratio is what the author wrote; where no line states one, the dried herb behind each millilitre. Nothing is told of a
/// formula that nests others, whose ratio would be theirs.
pub(super) fn strength(reference: &Materia, sheet: &Sheet<'_>) -> Vec<LabelFact> {
    let kind = reference.preparations.iter().find(|kind| kind.key == sheet.written.preparation);
    if kind.is_none_or(|kind| kind.alcoholic != Holds::Always) {
        return Vec::new();
    }
    let calculated = |text: String| LabelFact { text, from: LabelOrigin::Calculation, source: None };
    let percent = sheet.judged.alcohol.by_volume.value().map(|share| share * Decimal::ONE_HUNDRED);
    let alcohol = match percent {
        Some(percent) => format!("Alcohol {} % vol.", percent.round_dp(1).normalize()),
        None => "Alcohol: not known.".to_owned(),
    };
    let mut facts = vec![calculated(alcohol)];
    if sheet.whole.nested.is_empty() {
        facts.extend(ratio(sheet));
    }
    facts
}

fn ratio(sheet: &Sheet<'_>) -> Option<LabelFact> {
    let lines = || sheet.written.content.phases.iter().flat_map(|phase| &phase.lines);
    let stated = lines().find_map(|line| {
        let ratio = line.amount.split_whitespace().next()?;
        ratio.starts_with("1:").then(|| ratio.trim_end_matches(',').to_owned())
    });
    if let Some(stated) = stated {
        return Some(LabelFact {
            text: format!("Ratio {stated}."),
            from: LabelOrigin::Formula,
            source: None,
        });
    }
    let [herb] = sheet.evaluation.herbs.as_slice() else { return None };
    // mg of herb in a mL.
    let held = herb.per_gram.value()?.checked_mul(sheet.evaluation.density.value()?)?;
    let parts = Decimal::ONE_THOUSAND.checked_div(held)?.round_dp(1).normalize();
    let text = format!("Ratio 1:{parts}, dried herb in g to mL.");
    Some(LabelFact { text, from: LabelOrigin::Calculation, source: None })
}

/// The ingredients by descending share, equal shares by name. Herbs that were strained off come last.
pub(super) fn ingredients(reference: &Materia, sheet: &Sheet<'_>, known: &Known<'_>) -> LabelIngredients {
    let ingredient = |of: &MaterialFacts| {
        // The water of a fresh herb is no material of its own and takes the INCI name of water.
        let water = || reference.material("purified-water").filter(|_| of.kind == MaterialKind::Water);
        let material = known.get(of.id.as_str()).copied().or_else(water);
        LabelIngredient {
            name: of.name.to_string(),
            inci: material.and_then(|material| material.inci.clone()),
            drawn_out: false,
            place_unknown: false,
        }
    };
    let mut leaves: Vec<&galenics::Leaf> =
        sheet.evaluation.composition.iter().filter(|leaf| leaf.share.value() != Some(0.into())).collect();
    leaves.sort_by(|a, b| {
        let key = |leaf: &galenics::Leaf| Reverse(leaf.share.value());
        key(a).cmp(&key(b)).then_with(|| a.material.name.cmp(&b.material.name))
    });
    let mut items: Vec<LabelIngredient> = leaves
        .iter()
        .map(|leaf| LabelIngredient {
            place_unknown: leaf.share.value().is_none(),
            ..ingredient(&leaf.material)
        })
        .collect();
    // A strained herb is not part of the composition, but its extract is, so the label names the herb.
    let mut strained: Vec<&galenics::Contained> = sheet
        .evaluation
        .contains
        .iter()
        .filter(|one| !leaves.iter().any(|leaf| leaf.material.id == one.material.id))
        .filter(|one| one.left_with_marc)
        .collect();
    let behind = |one: &galenics::Contained| {
        let herb = sheet.evaluation.herbs.iter().find(|herb| herb.material.id == one.material.id);
        herb.and_then(|herb| herb.per_gram.value())
    };
    strained.sort_by(|a, b| {
        Reverse(behind(a)).cmp(&Reverse(behind(b))).then_with(|| a.material.name.cmp(&b.material.name))
    });
    items.extend(strained.iter().map(|one| LabelIngredient {
        drawn_out: true,
        place_unknown: behind(one).is_none(),
        ..ingredient(&one.material)
    }));
    LabelIngredients {
        of: sheet.of,
        why_planned: sheet.why_planned.clone(),
        from: LabelOrigin::Calculation,
        items,
    }
}

/// The allergens to declare: fragrance allergens above their threshold or of unknown share, and for a food the allergen
/// groups of food law.
pub(super) fn allergens(reference: &Materia, sheet: &Sheet<'_>, known: &Known<'_>) -> Vec<LabelAllergen> {
    let mut all: Vec<LabelAllergen> = sheet
        .judged
        .allergens
        .iter()
        .filter(|allergen| allergen.declare != Some(false))
        .map(|allergen| LabelAllergen {
            label_name: allergen.label_name.to_string(),
            unknown: match allergen.declare {
                Some(_) => None,
                None => allergen.share.unknown().map(ToString::to_string),
            },
            from: LabelOrigin::Calculation,
            source: figure_source(&allergen.source),
        })
        .collect();
    if sheet.facts.regime == Regime::Food {
        let there = |group: &str| {
            let contained = sheet.evaluation.contains.iter();
            contained
                .filter_map(|one| known.get(one.material.id.as_str()))
                .any(|material| material.is_in_allergy_group(group))
        };
        let groups = reference.allergy_groups.iter().filter(|group| group.declared_in_food);
        all.extend(groups.filter(|group| there(&group.key)).map(|group| LabelAllergen {
            label_name: group.name.clone(),
            unknown: None,
            from: LabelOrigin::Materia,
            source: figure_source(&judgement::facts::source(&group.source.text, group.status)),
        }));
    }
    all.sort_by(|a, b| a.label_name.cmp(&b.label_name));
    all
}
