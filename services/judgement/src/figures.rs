//! Conversion of calculated figures and their sources into the types of `wire`.

use galenics::explain::{Figure, Input, Source, Status};
use galenics::explained::Explained;
use galenics::number::to_significant_text;
use wire::figure::{Figure as Travelling, FigureInput, FigureSource};

/// Converts a figure, with its inputs and sources, and names it `name`.
///
/// Values are rounded to 12 significant digits, constants to 16. An unknown figure has no value but the missing datum.
///
/// A figure that the same explanation rests on several times has its inputs where it comes first.
pub fn figure(name: impl Into<String>, figure: &Figure) -> Travelling {
    within(name, figure, &Explained::default())
}

fn within(name: impl Into<String>, figure: &Figure, explained: &Explained) -> Travelling {
    let mut unknown = None;
    let value = match (figure.value(), figure.answer(), figure.unknown()) {
        (Some(number), _, _) => Some(shown(number)),
        (None, Some(words), _) => Some(words.to_string()),
        (None, None, missing) => {
            unknown = missing.map(ToString::to_string);
            None
        }
    };
    Travelling {
        name: name.into(),
        value,
        unit: figure.unit().to_owned(),
        unknown,
        rule: figure.rule().key.to_owned(),
        sentence: figure.sentence(),
        source: source(figure.source()),
        inputs: explained.inputs(figure).iter().map(|it| input(it, explained)).collect(),
    }
}

/// Converts a source.
pub fn figure_source(source: &Source) -> FigureSource {
    FigureSource { text: source.text.to_string(), status: source.status.to_string() }
}

/// Rounds to 12 significant digits: more than any balance shows, without the digits that a division leaves.
fn shown(number: galenics::Decimal) -> String {
    to_significant_text(number, 12)
}

/// Rounds to 16 significant digits: every exact unit factor stays exact, derived constants lose the digits that a
/// division leaves.
fn constant(number: galenics::Decimal) -> String {
    to_significant_text(number, 16)
}

/// The source of a figure; none for arithmetic, which follows from its definition.
fn source(source: &Source) -> Option<FigureSource> {
    (source.status != Status::Definition).then(|| figure_source(source))
}

fn input(input: &Input, explained: &Explained) -> FigureInput {
    let name = input.name().to_string();
    let plain = FigureInput { name, value: None, unit: None, source: None, figure: None };
    match input {
        Input::Number { value, unit, .. } => {
            FigureInput { value: Some(shown(*value)), unit: Some((*unit).to_owned()), ..plain }
        }
        Input::Words { value, .. } => FigureInput { value: Some(value.to_string()), ..plain },
        Input::Constant { value, unit, source: from, .. } => FigureInput {
            value: Some(constant(*value)),
            unit: Some((*unit).to_owned()),
            source: source(from),
            ..plain
        },
        Input::Figure { name, figure: inner } => {
            FigureInput { figure: Some(Box::new(within(name.to_string(), inner, explained))), ..plain }
        }
    }
}
