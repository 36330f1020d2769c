//! A number that can explain itself.
//!
//! A [`Figure`] is a computed value together with the [`Rule`] that made it, the inputs that went into the
//! rule, the source of the rule or of its constants, and, where it rests on other figures, those figures: a
//! tree. It costs one allocation to make and a reference count to copy; the sentence for a person is only
//! written when somebody asks for it or when the figure is turned into JSON.
//!
//! A figure that cannot be known holds an [`Unknown`] that says what is missing. It is never a guess.

use std::{
    fmt::{self, Write as _},
    sync::Arc,
};

use chrono::NaiveDate;
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use crate::{Text, shown, words::words};

words! {
    /// How far a source can be trusted.
    Status, "status" {
        /// Read in a published standard, law, table or handbook.
        Verified = "verified",
        /// Read in a copy, quotation or paraphrase that names the original.
        Secondary = "secondary",
        /// Remembered, not looked up: never shown as if it were law.
        FromMemory = "from memory",
        /// A habit of the trade without an authority.
        CommonPractice = "common practice",
        /// Arithmetic or a definition, which needs no authority.
        Definition = "definition",
        /// Entered or measured by the clinic.
        Entered = "entered by the clinic",
    }
}

/// Where a rule or a constant comes from.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Source {
    /// The standard, law, table or page.
    pub text: Text,
    /// How far it can be trusted.
    pub status: Status,
}

impl Source {
    /// A source that is part of the program.
    #[must_use]
    pub const fn fixed(text: &'static str, status: Status) -> Self {
        Self { text: Text::fixed(text), status }
    }

    /// A source given at run time.
    pub fn new(text: impl Into<Text>, status: Status) -> Self {
        Self { text: text.into(), status }
    }
}

/// A value and where it comes from.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize)]
pub struct Sourced<T> {
    /// The value.
    pub value: T,
    /// Where it comes from.
    pub source: Source,
}

impl<T> Sourced<T> {
    /// A value from a source.
    pub fn new(value: T, source: Source) -> Self {
        Self { value, source }
    }

    /// A value that the clinic entered or measured.
    pub fn entered(value: T) -> Self {
        Self { value, source: Source::fixed("entered by the clinic", Status::Entered) }
    }
}

/// A rule of calculation: a stable key, a sentence with places for the inputs, and its source.
#[derive(Debug)]
pub struct Rule {
    /// A stable name in snake case, for tools.
    pub key: &'static str,
    /// A sentence in which `{name}` stands for the input of that name and `{=}` for the result.
    pub says: &'static str,
    /// Where the rule comes from.
    pub source: Source,
}

impl Rule {
    /// A rule that is arithmetic or a definition.
    #[must_use]
    pub const fn definition(key: &'static str, says: &'static str) -> Self {
        Self { key, says, source: Source::fixed("definition", Status::Definition) }
    }

    /// A rule with a source.
    #[must_use]
    pub const fn new(key: &'static str, says: &'static str, source: Source) -> Self {
        Self { key, says, source }
    }
}

/// A rule as a figure shows it, borrowed from the figure.
///
/// The rule of a computed figure is part of the program; that of a figure restored from a kept result
/// ([`crate::kept`]) was read with it, and stays as it was written whatever the program says today.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct RuleRef<'a> {
    /// A stable name in snake case, for tools.
    pub key: &'a str,
    /// A sentence in which `{name}` stands for the input of that name and `{=}` for the result.
    pub says: &'a str,
    /// Where the rule comes from.
    pub source: &'a Source,
}

/// A rule that was read with a kept result, and the unit of the figures that it made.
#[derive(Debug)]
pub(crate) struct KeptRule {
    pub(crate) unit: &'static str,
    pub(crate) key: Text,
    pub(crate) says: Text,
    pub(crate) source: Source,
}

/// The rule that made a figure, with its unit: held together, so that a computed figure is not larger than its
/// rule and unit are.
#[derive(Clone)]
enum MadeBy {
    Program { rule: &'static Rule, unit: &'static str },
    Kept(Arc<KeptRule>),
}

impl MadeBy {
    fn rule(&self) -> RuleRef<'_> {
        match self {
            Self::Program { rule, .. } => RuleRef { key: rule.key, says: rule.says, source: &rule.source },
            Self::Kept(rule) => RuleRef { key: &rule.key, says: &rule.says, source: &rule.source },
        }
    }

    fn unit(&self) -> &'static str {
        match self {
            Self::Program { unit, .. } => unit,
            Self::Kept(rule) => rule.unit,
        }
    }
}

/// What is missing where a figure cannot be known.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Unknown(Arc<[Text]>);

impl Unknown {
    /// One missing thing, such as "density of rose oil".
    pub fn of(missing: impl Into<Text>) -> Self {
        let missing = missing.into();
        // What was said to be unknown elsewhere is passed on, and the word said once.
        let bare = missing.strip_prefix("unknown: ").map(|bare| Text::from(bare.to_owned()));
        Self([bare.unwrap_or(missing)].into())
    }

    /// Exactly what was missing when it was kept.
    pub(crate) fn kept(missing: Vec<Text>) -> Self {
        Self(missing.into())
    }

    /// What is missing, each once.
    #[must_use]
    pub fn missing(&self) -> &[Text] {
        &self.0
    }

    /// All that either misses, each once.
    #[must_use]
    pub fn and(&self, other: &Self) -> Self {
        let mut all = self.0.to_vec();
        for missing in other.missing() {
            if !all.contains(missing) {
                all.push(missing.clone());
            }
        }
        Self(all.into())
    }
}

impl fmt::Display for Unknown {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("unknown: ")?;
        for (at, missing) in self.0.iter().enumerate() {
            if at > 0 {
                f.write_str("; ")?;
            }
            f.write_str(missing)?;
        }
        Ok(())
    }
}

/// What a figure answers.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Value {
    /// A number in the figure's unit.
    Number(Decimal),
    /// An answer in words, where the question is not one of quantity.
    Words(Text),
    /// A day.
    Day(NaiveDate),
    /// It cannot be known, and why.
    Unknown(Unknown),
}

/// What went into a rule.
#[derive(Debug, Clone)]
pub enum Input {
    /// A number with its unit.
    Number {
        /// The name by which the rule's sentence calls it.
        name: Text,
        /// The number.
        value: Decimal,
        /// Its unit.
        unit: &'static str,
    },
    /// A word or a name.
    Words {
        /// The name by which the rule's sentence calls it.
        name: Text,
        /// The words.
        value: Text,
    },
    /// A constant with a source of its own.
    Constant {
        /// The name by which the rule's sentence calls it.
        name: Text,
        /// The number.
        value: Decimal,
        /// Its unit.
        unit: &'static str,
        /// Where it comes from.
        source: Source,
    },
    /// Another figure.
    Figure {
        /// The name by which the rule's sentence calls it.
        name: Text,
        /// The figure.
        figure: Figure,
    },
}

impl Input {
    /// A number with its unit.
    pub fn number(name: impl Into<Text>, value: Decimal, unit: &'static str) -> Self {
        Self::Number { name: name.into(), value, unit }
    }

    /// A word or a name.
    pub fn words(name: impl Into<Text>, value: impl Into<Text>) -> Self {
        Self::Words { name: name.into(), value: value.into() }
    }

    /// A constant with a source of its own.
    pub fn constant(name: impl Into<Text>, value: Decimal, unit: &'static str, source: Source) -> Self {
        Self::Constant { name: name.into(), value, unit, source }
    }

    /// Another figure.
    pub fn figure(name: impl Into<Text>, figure: &Figure) -> Self {
        Self::Figure { name: name.into(), figure: figure.clone() }
    }

    /// The name by which the rule's sentence calls it.
    #[must_use]
    pub fn name(&self) -> &Text {
        match self {
            Self::Number { name, .. }
            | Self::Words { name, .. }
            | Self::Constant { name, .. }
            | Self::Figure { name, .. } => name,
        }
    }
}

impl Input {
    fn write(&self, out: &mut impl fmt::Write) -> fmt::Result {
        match self {
            Self::Number { value, unit, .. } | Self::Constant { value, unit, .. } => {
                shown::write(out, *value, unit)
            }
            Self::Words { value, .. } => out.write_str(value),
            Self::Figure { figure, .. } => figure.write(out),
        }
    }
}

impl fmt::Display for Input {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.write(f)
    }
}

/// A computed value that can explain itself. Cheap to copy.
#[derive(Clone)]
pub struct Figure(Arc<Inner>);

struct Inner {
    value: Value,
    made_by: MadeBy,
    inputs: Vec<Input>,
}

impl Figure {
    #[inline]
    fn new(value: Value, unit: &'static str, rule: &'static Rule, inputs: Vec<Input>) -> Self {
        Self(Arc::new(Inner { value, made_by: MadeBy::Program { rule, unit }, inputs }))
    }

    /// A figure read from a kept result.
    pub(crate) fn kept(value: Value, rule: Arc<KeptRule>, inputs: Vec<Input>) -> Self {
        Self(Arc::new(Inner { value, made_by: MadeBy::Kept(rule), inputs }))
    }

    /// A number that tells two figures apart and copies of one figure not, as long as they live.
    pub(crate) fn address(&self) -> usize {
        Arc::as_ptr(&self.0).addr()
    }

    /// A number in a unit, by a rule from its inputs.
    #[must_use]
    pub fn number(value: Decimal, unit: &'static str, rule: &'static Rule, inputs: Vec<Input>) -> Self {
        Self::new(Value::Number(value), unit, rule, inputs)
    }

    /// An answer in words.
    pub fn words(answer: impl Into<Text>, rule: &'static Rule, inputs: Vec<Input>) -> Self {
        Self::new(Value::Words(answer.into()), "", rule, inputs)
    }

    /// A day, by a rule from its inputs.
    #[must_use]
    pub fn day(day: NaiveDate, rule: &'static Rule, inputs: Vec<Input>) -> Self {
        Self::new(Value::Day(day), "", rule, inputs)
    }

    /// A figure that cannot be known.
    #[must_use]
    pub fn unknown_for(
        unknown: Unknown,
        unit: &'static str,
        rule: &'static Rule,
        inputs: Vec<Input>,
    ) -> Self {
        Self::new(Value::Unknown(unknown), unit, rule, inputs)
    }

    /// A number where there is one, else what is missing.
    #[must_use]
    pub fn from_result(
        value: Result<Decimal, Unknown>,
        unit: &'static str,
        rule: &'static Rule,
        inputs: Vec<Input>,
    ) -> Self {
        match value {
            Ok(value) => Self::number(value, unit, rule, inputs),
            Err(unknown) => Self::unknown_for(unknown, unit, rule, inputs),
        }
    }

    /// The same figure once its value is not known any more: unit and rule stay, the inputs fall away.
    #[must_use]
    pub fn unknown_from_here(&self, unknown: Unknown) -> Self {
        let made_by = self.0.made_by.clone();
        Self(Arc::new(Inner { value: Value::Unknown(unknown), made_by, inputs: Vec::new() }))
    }

    /// What it answers, whatever that is.
    #[must_use]
    pub fn answers(&self) -> &Value {
        &self.0.value
    }

    /// The number, where there is one.
    #[must_use]
    pub fn value(&self) -> Option<Decimal> {
        match &self.0.value {
            Value::Number(value) => Some(*value),
            Value::Words(_) | Value::Day(_) | Value::Unknown(_) => None,
        }
    }

    /// The answer in words, where it is one.
    #[must_use]
    pub fn answer(&self) -> Option<&Text> {
        match &self.0.value {
            Value::Words(words) => Some(words),
            Value::Number(_) | Value::Day(_) | Value::Unknown(_) => None,
        }
    }

    /// What is missing, where the figure cannot be known.
    #[must_use]
    pub fn unknown(&self) -> Option<&Unknown> {
        match &self.0.value {
            Value::Unknown(unknown) => Some(unknown),
            Value::Number(_) | Value::Words(_) | Value::Day(_) => None,
        }
    }

    /// The number, or what is missing. Words and days count as missing a number.
    ///
    /// # Errors
    /// What is missing.
    pub fn known(&self) -> Result<Decimal, Unknown> {
        match &self.0.value {
            Value::Number(value) => Ok(*value),
            Value::Words(words) => Err(Unknown::of(words.clone())),
            Value::Day(day) => Err(Unknown::of(day.to_string())),
            Value::Unknown(unknown) => Err(unknown.clone()),
        }
    }

    /// The unit: one of [`crate::units`] or the sign of a [`crate::Unit`].
    #[must_use]
    pub fn unit(&self) -> &'static str {
        self.0.made_by.unit()
    }

    /// The rule that made it.
    #[must_use]
    pub fn rule(&self) -> RuleRef<'_> {
        self.0.made_by.rule()
    }

    /// What went into the rule.
    #[must_use]
    pub fn inputs(&self) -> &[Input] {
        &self.0.inputs
    }

    /// Where the rule comes from.
    #[must_use]
    pub fn source(&self) -> &Source {
        self.rule().source
    }

    /// One short sentence for a person. Numbers in it are rounded as [`crate::shown`] does; the value is not.
    #[must_use]
    pub fn sentence(&self) -> String {
        let mut out = String::with_capacity(self.rule().says.len() + 60);
        // A string takes whatever is written.
        let _written = self.write_sentence(&mut out);
        out
    }

    fn write_sentence(&self, out: &mut String) -> fmt::Result {
        if let Value::Unknown(unknown) = &self.0.value {
            return write!(out, "{unknown}");
        }
        let mut rest = self.rule().says;
        while let Some((before, after)) = rest.split_once('{') {
            out.push_str(before);
            let Some((name, tail)) = after.split_once('}') else {
                out.push_str(after);
                return Ok(());
            };
            if name == "=" {
                self.write(out)?;
            } else if let Some(input) = self.0.inputs.iter().find(|input| input.name().as_str() == name) {
                input.write(out)?;
            } else {
                debug_assert!(false, "the rule {} names {name:?}, which no input has", self.rule().key);
                out.push_str(name);
            }
            rest = tail;
        }
        out.push_str(rest);
        Ok(())
    }

    fn write(&self, out: &mut impl fmt::Write) -> fmt::Result {
        match &self.0.value {
            Value::Number(value) => shown::write(out, *value, self.unit()),
            Value::Words(words) => out.write_str(words),
            Value::Day(day) => write!(out, "{day}"),
            Value::Unknown(unknown) => write!(out, "{unknown}"),
        }
    }
}

/// A figure with the name of what it is of.
#[derive(Debug, Clone, Serialize)]
pub struct Named {
    /// Of what.
    pub name: Text,
    /// The figure.
    pub figure: Figure,
}

impl fmt::Display for Figure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.write(f)
    }
}

impl fmt::Debug for Figure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Figure({} by {})", self, self.rule().key)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::number::dec;
    use crate::units;

    static GROSS: Rule =
        Rule::definition("gross_from_net", "amount to weigh for {net} after losses of {loss}: {=}");

    #[test]
    fn a_figure_explains_itself_in_a_sentence_and_in_json() {
        let figure = Figure::number(
            dec("375.000"),
            units::GRAM,
            &GROSS,
            vec![
                Input::number("net", dec("360"), units::GRAM),
                Input::number("loss", dec("0.04"), units::SHARE),
            ],
        );
        assert_eq!(figure.sentence(), "amount to weigh for 360 g after losses of 4 %: 375 g");
        let json = serde_json::to_value(&figure).unwrap();
        assert_eq!(json["value"], "375");
        assert_eq!(json["unit"], "g");
        assert_eq!(json["rule"], "gross_from_net");
        assert_eq!(json["inputs"][1]["value"], "0.04");
        assert_eq!(json["source"]["status"], "definition");
    }

    #[test]
    fn what_is_missing_is_named_once_and_never_guessed() {
        let one = Unknown::of("density of rose oil");
        let both = one.and(&Unknown::of("density of honey")).and(&one);
        let figure = Figure::unknown_for(both, units::GRAM, &GROSS, vec![]);
        assert_eq!(figure.value(), None);
        assert_eq!(figure.sentence(), "unknown: density of rose oil; density of honey");
        let json = serde_json::to_value(&figure).unwrap();
        assert!(json["value"].is_null());
        assert_eq!(json["unknown"][1], "density of honey");
    }
}
