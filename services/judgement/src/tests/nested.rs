//! What is nested on many ways is judged once, and the first ways to it are named.

use std::collections::HashMap;

use galenics::interrupt;
use serde_json::json;
use uuid::Uuid;
use wire::ids::FormulaId;

use super::{Nested, REFERENCE, material_id, place};
use crate::assembled::assemble_and_evaluate;
use crate::clinic_cautions::ClinicCautions;
use crate::dating::{self, Dated};
use crate::nested::MOST_WAYS;
use crate::observed::Observed;
use crate::written::{Customary, Ingredient, Written};
use crate::{NestedRevisions, assessment, cautions};

fn revision(number: usize) -> Uuid {
    Uuid::from_u128(u128::try_from(1_000_000 + number).unwrap())
}

/// A salve of these lines, a gram of each.
fn salve(ingredients: Vec<Ingredient>) -> Written {
    let line = |ingredient: &Ingredient| match ingredient {
        Ingredient::Material { name, .. } => json!({ "material": name, "amount": "1 g" }),
        Ingredient::Revision { title, .. } => json!({ "formula": title, "amount": "1 g" }),
    };
    let lines: Vec<_> = ingredients.iter().map(line).collect();
    let content = json!({
        "title": "Salve", "preparation": "salve", "route": "intact-skin-leave-on", "regime": "cosmetic",
        "phases": [{ "name": "all", "lines": lines }], "method": [],
    });
    Written {
        content: serde_json::from_value(content).unwrap(),
        ingredients: vec![ingredients],
        customary: Customary::Metric,
        dropper: None,
        preparation: "salve".into(),
        route: "intact-skin-leave-on".into(),
    }
}

fn material(key: &str) -> Ingredient {
    let place = place(key);
    Ingredient::Material { id: material_id(place), version: 1, name: REFERENCE.materials[place].name.clone() }
}

fn nests(number: usize) -> Ingredient {
    let id = revision(number);
    Ingredient::Revision { id, formula: id, title: format!("R{number}"), digest: String::new() }
}

/// Levels of `wide` revisions, each of which nests all of the level below; the lowest has a herb of the daisy family.
fn layered(deep: usize, wide: usize) -> (Written, Nested) {
    let mut nested = Nested::new();
    for level in 0..deep {
        for at in 0..wide {
            let mut lines = vec![material("olive-oil")];
            if level == 0 {
                lines.push(material("calendula-flower-dried"));
            } else {
                lines.extend((0..wide).map(|below| nests((level - 1) * wide + below)));
            }
            nested.insert(revision(level * wide + at), salve(lines));
        }
    }
    let outermost = salve((0..wide).map(|below| nests((deep - 1) * wide + below)).collect());
    (outermost, nested)
}

#[test]
fn cautions_and_dates_cost_what_the_lines_cost_and_not_the_ways() {
    // Ten to the tenth ways to the lowest level.
    let (outermost, nested) = layered(10, 10);
    let lines: usize = nested.values().chain([&outermost]).map(|it| it.ingredients[0].len()).sum();
    let materials: HashMap<_, _> = nested
        .values()
        .flat_map(Written::materials)
        .map(|(id, version)| {
            let place = usize::try_from(id.as_u128()).unwrap() - 1;
            ((id, version), REFERENCE.materials[place].clone().into())
        })
        .collect();
    let formulas = nested.keys().map(|id| (*id, *id)).collect();
    let id = FormulaId(Uuid::from_u128(u128::MAX));
    let (whole, assembled) = interrupt::counted(|| {
        assemble_and_evaluate(id, &outermost, nested.clone(), &formulas, materials).unwrap()
    });
    assert!(assembled <= u64::try_from(3 * lines).unwrap(), "{assembled} for {lines} lines");

    let observed = Observed::as_written(&outermost.content);
    let of = Dated {
        made_on: chrono::NaiveDate::from_ymd_opt(2026, 3, 2).unwrap(),
        evaluation: &whole.evaluation,
        observed: &observed,
        lots: Vec::new(),
        switched_off: &[],
    };
    let (answer, dated) = interrupt::counted(|| {
        dating::use_by(&REFERENCE, &outermost, &whole, of, crate::figures::Detail::Brief).unwrap()
    });
    assert!(answer.date.is_some());
    assert_eq!(dated, 101, "each nested revision and the formula itself");

    let judged = assessment::judge(&REFERENCE, &outermost, &whole, &whole.evaluation, &observed).unwrap();
    let (all, found) = interrupt::counted(|| {
        cautions::cautions(&REFERENCE, &outermost, &whole, &judged, &ClinicCautions::default()).unwrap()
    });
    let most = u64::try_from(lines * 30 * MOST_WAYS).unwrap();
    assert!(found < most, "{found} for {lines} lines");
    let daisies = all.cautions.iter().find(|it| it.caution.key == "allergy-asteraceae").unwrap();
    let origins = &daisies.caution.origins;
    assert_eq!(origins.len(), 10 * MOST_WAYS);
    for lowest in 0..10 {
        let ends = format!("R{lowest} > dried calendula flower > ");
        assert!(origins.iter().any(|origin| origin.contains(&ends)), "no way to R{lowest} in {origins:#?}");
    }
}

#[test]
fn ways_are_named_from_top_to_bottom_and_each_revision_stands_before_what_it_nests() {
    // The same revision two levels down and, below it in the formula, on a line of its own.
    let nested: Nested = [
        (revision(0), salve(vec![material("olive-oil")])),
        (revision(1), salve(vec![material("beeswax-yellow"), nests(0), nests(0)])),
        (revision(2), salve(vec![nests(1), nests(0)])),
    ]
    .into();
    let outermost = salve(vec![nests(2), nests(0), nests(1), nests(2)]);
    let arranged = NestedRevisions::of(&outermost, nested).unwrap();
    assert_eq!(arranged.keys().copied().collect::<Vec<_>>(), [revision(2), revision(1), revision(0)]);
    let ways = arranged.ways(&outermost);
    let titles: Vec<String> = ways[&revision(0)].iter().map(|way| way.titles.join(" > ")).collect();
    assert_eq!(titles, ["R2 > R1 > R0", "R2 > R0", "R0", "R1 > R0"]);
}

#[test]
fn what_nests_itself_or_is_missing_is_an_internal_fault() {
    let itself: Nested = [(revision(0), salve(vec![nests(1)])), (revision(1), salve(vec![nests(0)]))].into();
    assert!(NestedRevisions::of(&salve(vec![nests(0)]), itself).is_err());
    assert!(NestedRevisions::of(&salve(vec![nests(0)]), Nested::new()).is_err());
}
