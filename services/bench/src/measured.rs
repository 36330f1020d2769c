//! What was measured, as figures of an entry.

use galenics::as_made::deviation;
use galenics::explain::{Input, Rule};
use galenics::{Decimal, Figure, units};
use judgement::figures::Detail;
use policy::Rules;
use recipes::stored::Recipe;
use release::entries::{Entry, Measured, Place};
use store::known_as::Names;
use wire::bench::LineWeighed;

use crate::measures::converted_by;

static MASS: Rule = Rule::definition("entry_mass", "{typed}: {=}");
static MASS_BY_DENSITY: Rule = Rule::definition("entry_mass_by_density", "{by}: {=}");
static TEMPERATURE: Rule = Rule::definition("entry_temperature", "{typed}: {=}");
static PH: Rule = Rule::definition("entry_ph", "measured: {typed}");
static WATER_ACTIVITY: Rule = Rule::definition("entry_water_activity", "measured: {typed}");
pub(crate) static SO_FAR: Rule = Rule::definition("line_weighed", "total of {count} weighings: {=}");

/// The entry with figures of what was measured, and the name of its writer.
pub(crate) fn shown(
    entry: Entry,
    recipe: &Recipe,
    rules: &Rules,
    detail: Detail,
    names: &Names,
) -> wire::bench::Entry {
    let Entry { shown, measured: Measured { grams, celsius, ph, water_activity, labels: _ } } = entry;
    let typed = || Input::words("typed", shown.quantity.clone().unwrap_or_default());
    let converted_by = grams.and_then(|_| converted_by(recipe, &shown, rules.customary));
    let grams = grams.map(|grams| {
        let (rule, inputs) = match &converted_by {
            Some(by) => (&MASS_BY_DENSITY, vec![Input::words("by", by.clone())]),
            None => (&MASS, vec![typed()]),
        };
        detail.figure("mass", &Figure::number(grams, units::GRAM, rule, inputs))
    });
    let celsius = celsius.map(|celsius| {
        detail.figure("temperature", &Figure::number(celsius, units::CELSIUS, &TEMPERATURE, vec![typed()]))
    });
    let ph = ph.map(|ph| detail.figure("pH", &Figure::number(ph, units::RATIO, &PH, vec![typed()])));
    let water_activity = water_activity.map(|activity| {
        let figure = Figure::number(activity, units::RATIO, &WATER_ACTIVITY, vec![typed()]);
        detail.figure("water activity", &figure)
    });
    wire::bench::Entry {
        grams,
        converted_by,
        celsius,
        ph,
        water_activity,
        by_name: names.of(shown.by.0),
        ..shown
    }
}

/// How far a line is weighed.
pub(crate) fn line_so_far(recipe: &Recipe, line: &str, place: &Place, rules: &Rules) -> Option<LineWeighed> {
    let of = recipe.lines().find(|of| of.line == line)?;
    let sum = place.grams.unwrap_or_default();
    let off = recipe.target(of).and_then(|target| {
        let found = rules.tolerances().compare(of.function(), target, sum)?;
        Some(deviation(&found, found.share?, (sum, target), units::GRAM))
    });
    let inputs = vec![Input::number("count", Decimal::from(place.count), units::RATIO)];
    Some(LineWeighed {
        line: line.to_owned(),
        weighed: Detail::Brief.figure("weighed", &Figure::number(sum, units::GRAM, &SO_FAR, inputs)),
        // Its sentence is what is read at the bench.
        deviation: off.map(|off| wire::figure::Figure {
            sentence: Some(off.sentence()),
            ..Detail::Brief.figure("deviation", &off)
        }),
    })
}
