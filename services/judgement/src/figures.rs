//! Figures of the calculations as they travel.

use galenics::explain::{Figure, Input, Source, Status};
use wire::figure::{Figure as Travelling, FigureInput, FigureSource};

/// A figure as it travels, under the name by which the reader looks for it.
pub fn figure(name: impl Into<String>, figure: &Figure) -> Travelling {
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
        inputs: figure.inputs().iter().map(input).collect(),
    }
}

/// A source as it travels.
pub fn figure_source(source: &Source) -> FigureSource {
    FigureSource { text: source.text.to_string(), status: source.status.to_string() }
}

/// Twelve significant digits: more than anybody weighs, fewer than the tail of a division.
fn shown(number: galenics::Decimal) -> String {
    number.round_sf(12).unwrap_or(number).normalize().to_string()
}

/// Sixteen significant digits: every exact factor of a unit whole, without the tail of a division in what was derived.
fn constant(number: galenics::Decimal) -> String {
    number.round_sf(16).unwrap_or(number).normalize().to_string()
}

/// Plain arithmetic needs no authority and names none.
fn source(source: &Source) -> Option<FigureSource> {
    (source.status != Status::Definition).then(|| figure_source(source))
}

fn input(input: &Input) -> FigureInput {
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
            FigureInput { figure: Some(Box::new(figure(name.to_string(), inner))), ..plain }
        }
    }
}
