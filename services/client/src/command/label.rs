//! A label as text, part by part.

use wire::label::{Label, LabelFact, LabelIngredient};

use super::text::indented;

/// The label: every part under its heading, then missing data and the parts that do not fit.
pub(crate) fn label(label: &Label) -> String {
    let mut out = format!("{} ({})\n", label.name.text, label.preparation.text);
    for mark in &label.marks {
        indented(&mut out, 2, &mark.text.to_uppercase());
    }
    facts(&mut out, "Strength", label.strength.iter());
    facts(&mut out, "Net contents", label.net_contents.iter());
    listed(&mut out, "Made on", label.made_on.iter().map(|made| made.day.to_string()));
    listed(
        &mut out,
        "Use by",
        label.use_by.iter().map(|by| match by.day {
            Some(day) => format!("{day} ({})", by.because),
            None => by.because.clone(),
        }),
    );
    let kept = label.storage.iter().chain([&label.after_opening, &label.children]);
    facts(&mut out, "Keeping", kept);
    facts(&mut out, "Use", [&label.regime, &label.route].into_iter().chain(&label.meant_for));
    for group in &label.warnings {
        out.push_str(&format!("\n{}\n", group.heading));
        for warning in &group.warnings {
            indented(&mut out, 2, &warning.text);
        }
    }
    facts(&mut out, "Directions", label.directions.iter().chain(&label.patch_test).chain(&label.longest_use));
    listed(&mut out, "Ingredients", label.ingredients.items.iter().map(ingredient));
    listed(
        &mut out,
        "Allergens",
        label.allergens.iter().map(|one| match &one.unknown {
            None => one.label_name.clone(),
            Some(unknown) => format!("{} ({unknown})", one.label_name),
        }),
    );
    facts(&mut out, &label.clinic.text, [&label.notice].into_iter());
    listed(&mut out, "Missing", label.missing.iter().cloned());
    if let Some(room) = &label.room {
        out.push_str(&format!("\nSpace on {}\n", room.area));
        indented(&mut out, 2, room.needed.sentence.as_deref().unwrap_or_default());
        for part in &room.exceeding {
            let text =
                format!("{}: {} of {} characters do not fit", part.part, part.too_many, part.characters);
            indented(&mut out, 2, &text);
        }
    }
    if let Some(layout) = &label.layout {
        listed(&mut out, "On the jar", layout.jar.iter().map(|piece| piece.text.clone()));
        listed(&mut out, "On the leaflet", layout.leaflet.iter().map(|piece| piece.text.clone()));
        if !layout.fits {
            let least = layout.least_area.value.as_deref().unwrap_or_default();
            listed(&mut out, "Too small", [format!("Use a label of at least {least} cm2.")].into_iter());
        }
    }
    out
}

fn facts<'a>(out: &mut String, heading: &str, facts: impl Iterator<Item = &'a LabelFact>) {
    listed(out, heading, facts.map(|fact| fact.text.clone()));
}

/// A heading with a line for each item; nothing without items.
fn listed(out: &mut String, heading: &str, items: impl Iterator<Item = String>) {
    for (i, item) in items.enumerate() {
        if i == 0 {
            out.push_str(&format!("\n{heading}\n"));
        }
        indented(out, 2, &item);
    }
}

fn ingredient(item: &LabelIngredient) -> String {
    let name = match &item.inci {
        Some(inci) => format!("{inci} ({})", item.name),
        None => item.name.clone(),
    };
    match (item.drawn_out, item.place_unknown) {
        (false, false) => name,
        (true, false) => format!("{name}, drawn out"),
        (false, true) => format!("{name}, amount unknown"),
        (true, true) => format!("{name}, drawn out, amount unknown"),
    }
}
