//! Conversion of calculated figures and their sources into the types of `wire`.

use galenics::explain::{Figure, Input, Source, Status, Value};
use galenics::explained::Explained;
use galenics::number::to_significant_text;
use galenics::shown::{Shown, shown, shown_constant, unit};
use wire::figure::{Figure as Travelling, FigureInput, FigureSource};

/// How much of a figure travels.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Detail {
    /// The value. Of a value in words the sentence too, since it says what the words mean here.
    #[default]
    Brief,
    /// Rule, sentence, inputs and sources besides.
    Explained,
    /// The value alone to twelve significant digits, a share as a fraction: what digests of evaluations are taken of
    /// (form 2). It never changes, whatever people are shown.
    Digested,
}

impl Detail {
    /// Converts a figure and names it `name`.
    ///
    /// Values are rounded for a person ([`galenics::shown`]), with the exact value beside them. An unknown figure has no
    /// value but the missing datum. A figure that the same explanation rests on several times has its inputs where it
    /// comes first.
    pub fn figure(self, name: impl Into<String>, figure: &Figure) -> Travelling {
        match self {
            Self::Brief => brief(name.into(), figure),
            Self::Digested => digested(name.into(), figure),
            Self::Explained => explained(name.into(), figure, &Explained::default()),
        }
    }

    /// Converts the source of something that is no figure, where sources are told.
    #[must_use]
    pub fn source(self, source: &Source) -> Option<FigureSource> {
        (self == Self::Explained).then(|| figure_source(source))
    }
}

fn brief(name: String, figure: &Figure) -> Travelling {
    let plain = Travelling { name, unit: unit(figure.unit()).to_owned(), ..Travelling::default() };
    match figure.answers() {
        Value::Number(number) => {
            let Shown { value, exact, .. } = shown(*number, figure.unit());
            Travelling { value: Some(value), exact, ..plain }
        }
        Value::Words(words) => {
            Travelling { value: Some(words.to_string()), sentence: Some(figure.sentence()), ..plain }
        }
        Value::Day(day) => Travelling { value: Some(day.to_string()), ..plain },
        Value::Unknown(missing) => Travelling { unknown: Some(missing.to_string()), ..plain },
    }
}

fn digested(name: String, figure: &Figure) -> Travelling {
    let plain = Travelling { name, unit: figure.unit().to_owned(), ..Travelling::default() };
    match figure.answers() {
        Value::Number(number) => Travelling { value: Some(to_significant_text(*number, 12)), ..plain },
        Value::Words(words) => Travelling { value: Some(words.to_string()), ..plain },
        Value::Day(_) => plain,
        Value::Unknown(missing) => Travelling { unknown: Some(missing.to_string()), ..plain },
    }
}

fn explained(name: String, figure: &Figure, before: &Explained) -> Travelling {
    Travelling {
        rule: Some(figure.rule().key.to_owned()),
        sentence: Some(figure.sentence()),
        source: source(figure.source()),
        inputs: before.inputs(figure).iter().map(|it| input(it, before)).collect(),
        ..brief(name, figure)
    }
}

/// Converts a source.
pub fn figure_source(source: &Source) -> FigureSource {
    FigureSource { text: source.text.to_string(), status: source.status.to_string() }
}

/// The source of a figure; none for arithmetic, which follows from its definition.
fn source(source: &Source) -> Option<FigureSource> {
    (source.status != Status::Definition).then(|| figure_source(source))
}

fn input(input: &Input, before: &Explained) -> FigureInput {
    let plain = FigureInput { name: input.name().to_string(), ..FigureInput::default() };
    let number = |Shown { value, unit, exact }: Shown| FigureInput {
        value: Some(value),
        exact,
        unit: Some(unit.to_owned()),
        ..FigureInput::default()
    };
    match input {
        Input::Number { value, unit, .. } => FigureInput { name: plain.name, ..number(shown(*value, unit)) },
        Input::Words { value, .. } => FigureInput { value: Some(value.to_string()), ..plain },
        Input::Constant { value, unit, source: from, .. } => {
            FigureInput { name: plain.name, source: source(from), ..number(shown_constant(*value, unit)) }
        }
        Input::Figure { name, figure: inner } => {
            FigureInput { figure: Some(Box::new(explained(name.to_string(), inner, before))), ..plain }
        }
    }
}
