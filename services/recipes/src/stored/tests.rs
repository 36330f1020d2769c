//! Recipes of batches from before the format number. They must stay readable.

use galenics::Decimal;
use serde_json::{Value, json};

use judgement::figures::Detail;

use super::{Format, Recipe, Turn, as_shown};
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
fn a_recipe_of_format_1_is_read_and_shown_in_todays_units() {
    for text in FORMAT_1 {
        assert_eq!(read(text).format, Format::One);
        let before = value(text);
        let [mut brief, mut explained] = [travels(text), travels(text)];
        as_shown(&mut brief, Detail::Brief);
        as_shown(&mut explained, Detail::Explained);
        for (shown, figure) in explained.figures.iter().zip(before["figures"].as_array().unwrap()) {
            let share = figure["unit"].as_str().unwrap().starts_with("fraction");
            let number = |text: &str| text.parse::<Decimal>();
            if let (true, Some(Ok(was))) = (share, figure["value"].as_str().map(number)) {
                assert!(shown.unit.starts_with('%'), "{}", shown.unit);
                assert_eq!(number(shown.value.as_ref().unwrap()).unwrap(), was * Decimal::from(100));
            } else {
                assert_eq!(shown.value.as_deref(), figure["value"].as_str());
            }
            assert_eq!(shown.sentence.as_deref(), figure["sentence"].as_str());
        }
        let lines = |recipe: &wire::recipe::Recipe| -> Vec<Option<String>> {
            let lines = recipe.phases.iter().flat_map(|phase| &phase.lines);
            lines.map(|line| line.weigh.value.clone()).collect()
        };
        assert_eq!(
            lines(&brief),
            read(text).lines().map(|line| line.weigh.value.clone()).collect::<Vec<_>>()
        );
        assert!(brief.figures.iter().all(|figure| figure.inputs.is_empty() && figure.rule.is_none()));
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
        let cautions = read(text).caution_set.turn();
        let stored = Recipe::of(WorkedOut { recipe: travels(text), exact }, cautions, Vec::new());
        let written = serde_json::to_string(&stored).unwrap();
        assert!(written.starts_with(r#"{"format":2,"#));
        assert_eq!(read(&written), stored);
        assert_eq!(read(&written).total(), Some(third));
        for line in stored.lines() {
            assert_eq!((stored.target(line), stored.density(line)), (Some(third), None));
        }
        let [again, before] = [&written, text].map(|text| serde_json::to_value(travels(text)).unwrap());
        assert_eq!(again, before);
    }
}

#[test]
fn what_an_evaporation_loss_raised_is_kept_beside_what_was_acknowledged() {
    let text = FORMAT_1[0];
    let mut recipe = travels(text);
    recipe.caution_set.loss_not_judged = Some("It depends on nested formulas.".into());
    let cautions: wire::safety::CautionSet = read(text).caution_set.turn();
    let raised: Vec<_> = cautions.cautions.iter().take(1).cloned().collect();
    assert_eq!(raised.len(), 1);
    let stored = Recipe::of(WorkedOut { recipe, exact: ExactRecipe::default() }, cautions, raised.clone());
    let written = serde_json::to_string(&stored).unwrap();
    let told = wire::recipe::Recipe::from(read(&written)).caution_set;
    assert_eq!(told.by_loss, raised.iter().map(Into::into).collect::<Vec<_>>());
    assert_eq!(told.loss_not_judged.as_deref(), Some("It depends on nested formulas."));
}

#[test]
fn a_recipe_of_an_unknown_format_is_refused() {
    let mut unknown = value(FORMAT_1[0]);
    unknown["format"] = json!(3);
    let refused = serde_json::from_value::<Recipe>(unknown).unwrap_err().to_string();
    assert!(refused.contains("unknown format 3"), "{refused}");
}
