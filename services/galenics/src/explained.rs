//! Figures as JSON, each with what it rests on.

use std::{cell::RefCell, collections::BTreeSet};

use rust_decimal::Decimal;
use serde::{Serialize, Serializer, ser::SerializeStruct};

use crate::{
    digits::Digits,
    explain::{Figure, Input, Value},
};

/// A decimal written as text without trailing zeros.
struct Written(Decimal);

impl Serialize for Written {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(Digits::of(self.0).as_str())
    }
}

/// The figures that were written out while one is explained. What rests on the same figure several times, on many ways,
/// explains it once, where it comes first: else the text would be as long as there are ways.
#[derive(Default)]
pub struct Explained(RefCell<BTreeSet<usize>>);

impl Explained {
    /// The inputs with which a figure is written: its own, or none where they stand elsewhere in the same explanation.
    #[must_use]
    pub fn inputs<'f>(&self, figure: &'f Figure) -> &'f [Input] {
        let rests_on_others = figure.inputs().iter().any(|input| matches!(input, Input::Figure { .. }));
        // Numbers and words are no longer than the rest of it.
        let new = !rests_on_others || self.0.borrow_mut().insert(figure.address());
        if new { figure.inputs() } else { &[] }
    }
}

struct FigureWithin<'a>(&'a Figure, &'a Explained);

impl Serialize for Figure {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        FigureWithin(self, &Explained::default()).serialize(serializer)
    }
}

impl Serialize for FigureWithin<'_> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let Self(figure, explained) = self;
        let mut out = serializer.serialize_struct("Figure", 7)?;
        match figure.answers() {
            Value::Number(value) => out.serialize_field("value", &Written(*value))?,
            Value::Words(words) => out.serialize_field("value", words)?,
            Value::Day(day) => out.serialize_field("value", &day.to_string())?,
            Value::Unknown(unknown) => {
                out.serialize_field("value", &None::<&str>)?;
                out.serialize_field("unknown", unknown.missing())?;
            }
        }
        let rule = figure.rule();
        out.serialize_field("unit", figure.unit())?;
        out.serialize_field("rule", rule.key)?;
        out.serialize_field("sentence", &figure.sentence())?;
        out.serialize_field("inputs", &Inputs(explained.inputs(figure), explained))?;
        out.serialize_field("source", rule.source)?;
        out.end()
    }
}

struct Inputs<'a>(&'a [Input], &'a Explained);

impl Serialize for Inputs<'_> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_seq(self.0.iter().map(|input| InputWithin(input, self.1)))
    }
}

struct InputWithin<'a>(&'a Input, &'a Explained);

impl Serialize for InputWithin<'_> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let Self(input, explained) = self;
        let mut out = serializer.serialize_struct("Input", 4)?;
        out.serialize_field("name", input.name())?;
        match input {
            Input::Number { value, unit, .. } => {
                out.serialize_field("value", &Written(*value))?;
                out.serialize_field("unit", unit)?;
            }
            Input::Words { value, .. } => out.serialize_field("value", value)?,
            Input::Constant { value, unit, source, .. } => {
                out.serialize_field("value", &Written(*value))?;
                out.serialize_field("unit", unit)?;
                out.serialize_field("source", source)?;
            }
            Input::Figure { figure, .. } => {
                out.serialize_field("figure", &FigureWithin(figure, explained))?
            }
        }
        out.end()
    }
}
