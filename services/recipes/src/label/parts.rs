//! The parts of a label as text.

use chrono::NaiveDate;
use wire::label::{Label, LabelAllergen, LabelFact, LabelIngredient};

/// The parts in printing order, each with its text: what a user is harmed by most for want of it comes first.
pub(super) fn parts(label: &Label) -> Vec<(&'static str, String)> {
    let many =
        |facts: &[LabelFact]| facts.iter().map(|fact| fact.text.as_str()).collect::<Vec<_>>().join(" ");
    let one = |fact: Option<&LabelFact>| fact.map(|fact| fact.text.clone()).unwrap_or_default();
    let headed = |heading: &str, text: &str| {
        if text.is_empty() { String::new() } else { format!("{heading}: {text}") }
    };
    let listed = |heading: &str, items: Vec<String>| headed(heading, &items.join(", "));
    let day = |day: Option<NaiveDate>| day.map(|day| day.to_string()).unwrap_or_default();
    let warnings: Vec<String> = label
        .warnings
        .iter()
        .map(|group| {
            let texts: Vec<&str> = group.warnings.iter().map(|one| one.text.as_str()).collect();
            headed(&group.heading, &texts.join(" "))
        })
        .collect();
    vec![
        ("name", label.name.text.clone()),
        ("preparation", label.preparation.text.clone()),
        ("marks", many(&label.marks)),
        ("batch_number", headed("Batch", &one(label.batch_number.as_ref()))),
        ("strength", many(&label.strength)),
        ("net_contents", headed("Net", &one(label.net_contents.as_ref()))),
        ("made_on", headed("Made on", &day(label.made_on.as_ref().map(|made| made.day)))),
        ("use_by", headed("Use by", &day(label.use_by.as_ref().and_then(|use_by| use_by.day)))),
        ("storage", many(&label.storage)),
        ("route", label.route.text.clone()),
        ("warnings", warnings.join(" ")),
        ("children", label.children.text.clone()),
        ("longest_use", many(&label.longest_use)),
        ("directions", one(label.directions.as_ref())),
        ("patch_test", one(label.patch_test.as_ref())),
        ("meant_for", one(label.meant_for.as_ref())),
        ("allergens", listed("Allergens", label.allergens.iter().map(allergen).collect())),
        ("ingredients", listed("Ingredients", label.ingredients.items.iter().map(ingredient).collect())),
        ("after_opening", label.after_opening.text.clone()),
        ("regime", label.regime.text.clone()),
        ("notice", label.notice.text.clone()),
        ("clinic", label.clinic.text.clone()),
    ]
}

fn ingredient(item: &LabelIngredient) -> String {
    let name = match &item.inci {
        Some(inci) => format!("{inci} ({})", item.name),
        None => item.name.clone(),
    };
    if item.drawn_out { format!("{name}, drawn out") } else { name }
}

fn allergen(allergen: &LabelAllergen) -> String {
    match allergen.unknown {
        None => allergen.label_name.clone(),
        Some(_) => format!("{} (not known)", allergen.label_name),
    }
}
