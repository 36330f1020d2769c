//! Stored figures as they are shown today: in today's units, and with as much of their explanation as is asked for.

use galenics::Decimal;
use galenics::number::to_significant_text;
use judgement::figures::Detail;
use wire::calculations::use_by::UseByAnswer;
use wire::figure::{Figure, FigureInput};
use wire::recipe::Recipe;

/// Brings the figures of a stored recipe into the form in which a recipe is shown.
pub fn as_shown(recipe: &mut Recipe, detail: Detail) {
    figure(&mut recipe.total, detail);
    for line in recipe.phases.iter_mut().flat_map(|phase| &mut phase.lines) {
        figure(&mut line.weigh, detail);
        line.measure.iter_mut().for_each(|it| figure(it, detail));
        line.rounding.iter_mut().for_each(|it| figure(it, detail));
        line.aliquot.iter_mut().for_each(|it| figure(it, detail));
    }
    recipe.figures.iter_mut().for_each(|it| figure(it, detail));
    recipe.use_by.iter_mut().for_each(|it| use_by(it, detail));
}

fn use_by(use_by: &mut UseByAnswer, detail: Detail) {
    use_by.figures.iter_mut().for_each(|it| figure(it, detail));
    for rule in &mut use_by.rules {
        rule.figure.iter_mut().for_each(|it| figure(it, detail));
        if detail == Detail::Brief {
            rule.source = None;
        }
    }
}

fn figure(shown: &mut Figure, detail: Detail) {
    in_percent(&mut shown.value, &mut shown.unit);
    if detail == Detail::Explained {
        shown.inputs.iter_mut().for_each(input);
        return;
    }
    let is_number = |value: &String| value.parse::<Decimal>().is_ok();
    if shown.value.as_ref().is_none_or(is_number) {
        shown.sentence = None;
    }
    (shown.rule, shown.source, shown.inputs) = (None, None, Vec::new());
}

fn input(shown: &mut FigureInput) {
    if let Some(unit) = &mut shown.unit {
        in_percent(&mut shown.value, unit);
    }
    if let Some(inner) = &mut shown.figure {
        figure(inner, Detail::Explained);
    }
}

/// A share that was stored as a fraction, as those of the first versions were, in per cent.
fn in_percent(value: &mut Option<String>, unit: &mut String) {
    let Some(basis) = unit.strip_prefix("fraction") else { return };
    let share = value.as_ref().and_then(|value| value.parse::<Decimal>().ok());
    let Some(percent) = share.and_then(|share| share.checked_mul(Decimal::ONE_HUNDRED)) else { return };
    (*value, *unit) = (Some(to_significant_text(percent, 12)), format!("%{basis}"));
}

/// The density of a line, of which the value alone is stored.
pub(super) fn density(g_per_ml: String) -> Figure {
    Figure { name: "density".into(), value: Some(g_per_ml), unit: "g/mL".into(), ..Figure::default() }
}
