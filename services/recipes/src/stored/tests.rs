//! Recipes of batches from before the format number. They must stay readable.

use galenics::Decimal;
use serde_json::{Value, json};

use super::{Format, Recipe};
use crate::work::{ExactLine, ExactRecipe, WorkedOut};

/// Recipes of format 1, from records of real runs: nested, by the jar, by volume, by the balance with an aliquot,
/// dated, with a changed caution.
const FORMAT_1: [&str; 5] = [
    include_str!("format_1/1.json"),
    include_str!("format_1/2.json"),
    include_str!("format_1/3.json"),
    include_str!("format_1/4.json"),
    include_str!("format_1/5.json"),
];

fn value(text: &str) -> Value {
    serde_json::from_str(text).unwrap()
}

fn read(text: &str) -> Recipe {
    serde_json::from_str(text).unwrap()
}

fn travels(text: &str) -> wire::recipe::Recipe {
    read(text).into()
}

#[test]
fn a_recipe_of_format_1_is_read_and_travels_as_it_was() {
    for text in FORMAT_1 {
        assert_eq!(read(text).format, Format::One);
        assert_eq!(serde_json::to_value(travels(text)).unwrap(), value(text));
    }
}

#[test]
fn a_recipe_of_format_1_is_judged_by_what_was_shown() {
    for text in FORMAT_1 {
        let recipe = read(text);
        for line in recipe.lines() {
            let shown = line.weigh.value.as_ref().map(|value| value.parse::<Decimal>().unwrap());
            assert_eq!(recipe.target(line), shown);
        }
        assert_eq!(recipe.total(), recipe.total.value.as_ref().map(|value| value.parse().unwrap()));
    }
}

#[test]
fn a_new_recipe_keeps_its_format_and_exact_decimals_and_travels_as_before() {
    let third = Decimal::from(100) / Decimal::from(3);
    for text in FORMAT_1 {
        let lines = read(text).lines().count();
        let exact = ExactRecipe {
            total: Some(third),
            g_per_ml: None,
            lines: vec![ExactLine { grams: Some(third), g_per_ml: None }; lines],
        };
        let stored = Recipe::from(WorkedOut { recipe: travels(text), exact });
        let written = serde_json::to_string(&stored).unwrap();
        assert!(written.starts_with(r#"{"format":2,"#));
        assert_eq!(read(&written), stored);
        assert_eq!(read(&written).total(), Some(third));
        for line in stored.lines() {
            assert_eq!((stored.target(line), stored.density(line)), (Some(third), None));
        }
        assert_eq!(serde_json::to_value(travels(&written)).unwrap(), value(text));
    }
}

#[test]
fn a_recipe_of_an_unknown_format_is_refused() {
    let mut unknown = value(FORMAT_1[0]);
    unknown["format"] = json!(3);
    let refused = serde_json::from_value::<Recipe>(unknown).unwrap_err().to_string();
    assert!(refused.contains("unknown format 3"), "{refused}");
}
