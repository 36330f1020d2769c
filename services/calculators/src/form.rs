//! Parsing of the fields of a question into the types of the calculations.
//!
//! A field that cannot be read is refused at its JSON pointer with a sentence that states the accepted form. All
//! refused fields of a question are returned together.

use std::str::FromStr;

use galenics::{
    Customary, Decimal, Density, Fraction, Mass, Measure, Quantity, QuantityError, Sourced, Temperature,
    UnknownWord, Volume, number,
};
use materials::Unnamed;
use store::{Error, Result, Tx};
use wire::problem::FieldError;

/// The refused fields of a question.
pub(super) struct Refused(Vec<FieldError>);

/// A parsed field, or the refusal.
pub(super) type Read<T> = std::result::Result<T, Refused>;

impl Refused {
    /// Joins refusals.
    pub(super) fn together(all: impl Iterator<Item = Self>) -> Self {
        Self(all.flat_map(|refused| refused.0).collect())
    }
}

impl From<Refused> for Error {
    fn from(refused: Refused) -> Self {
        Self::Invalid(refused.0)
    }
}

/// The longest text that is read as a number, share or density, in bytes.
const LONGEST: usize = 80;

/// A place in the request, with the clinic's system of household measures.
#[derive(Clone)]
pub(super) struct Form {
    at: String,
    customary: Customary,
}

impl Form {
    /// The root of a request.
    ///
    /// # Errors
    /// Returns the errors of the database.
    pub(super) async fn of(tx: &mut Tx<'_>) -> Result<Self> {
        Ok(Self { at: String::new(), customary: policy::rules(tx).await?.customary })
    }

    /// The place one level deeper.
    pub(super) fn within(&self, step: impl std::fmt::Display) -> Self {
        Self { at: format!("{}/{step}", self.at), customary: self.customary }
    }

    /// The system of household measures.
    pub(super) const fn customary(&self) -> Customary {
        self.customary
    }

    /// The JSON pointer of a field. An empty name means the place itself, such as an item of a list.
    pub(super) fn pointer(&self, field: &str) -> String {
        if field.is_empty() { self.at.clone() } else { format!("{}/{field}", self.at) }
    }

    /// A refusal of a field with a sentence for the user.
    pub(super) fn refuse(&self, field: &str, detail: impl std::fmt::Display) -> Refused {
        Refused(vec![FieldError::new(self.pointer(field), detail.to_string())])
    }

    /// The refusal of a text that cannot be read, with what was meant by it, if that can be told.
    pub(super) fn misread(
        &self,
        field: &str,
        error: impl std::fmt::Display,
        meant: Option<String>,
    ) -> Refused {
        Refused(vec![FieldError::new(self.pointer(field), error.to_string()).or(meant)])
    }

    /// The refusal of a name that no material has, with similar ones.
    pub(super) fn unnamed(&self, field: &str, unnamed: Unnamed) -> Refused {
        Refused(vec![FieldError::new(self.pointer(field), unnamed.said).or(unnamed.near)])
    }

    /// Parses a quantity with its unit.
    pub(super) fn quantity(&self, field: &str, text: &str) -> Read<Quantity> {
        Quantity::parse_with(text, self.customary)
            .map_err(|error| self.misread(field, error, Quantity::meant(text, self.customary)))
    }

    /// Parses a mass.
    pub(super) fn mass(&self, field: &str, text: &str) -> Read<Mass> {
        match self.quantity(field, text)?.measure() {
            Measure::Mass(mass) => Ok(mass),
            Measure::Volume(_) | Measure::Drops { .. } => {
                Err(self.refuse(field, "Enter a mass, such as 80 g, 250 mg or 2 oz."))
            }
        }
    }

    /// Parses a volume. Drops require the drops per mL.
    pub(super) fn volume(&self, field: &str, text: &str) -> Read<Volume> {
        self.quantity(field, text)?.volume(None).ok_or_else(|| {
            self.refuse(field, "Enter a volume, such as 25 mL, 2 fl oz or 20 drops at 25 per mL.")
        })
    }

    /// As [`volume`](Self::volume), but accepts 0.
    pub(super) fn volume_or_none(&self, field: &str, text: &str) -> Read<Volume> {
        match Quantity::parse_with(text, self.customary) {
            Err(QuantityError::Number(galenics::NumberError::Zero)) => {
                Volume::millilitres(Decimal::ZERO).map_err(|error| self.refuse(field, error))
            }
            _ => self.volume(field, text),
        }
    }

    /// Parses a share in per cent on the basis of the field.
    pub(super) fn share(&self, field: &str, text: &str, basis: Basis) -> Read<Fraction> {
        let example =
            || self.refuse(field, format!("Enter a share in per cent{}, such as 40 %.", basis.said()));
        let (percent, stated) = self.short(field, text)?.split_once('%').ok_or_else(example)?;
        let stated = stated.trim();
        if !stated.is_empty() && !basis.accepted().contains(&stated) {
            return Err(example());
        }
        let percent = number::parse(percent)
            .map_err(|error| self.refuse(field, format!("The share is not valid. {error}")))?;
        Fraction::percent(percent).map_err(|error| self.refuse(field, error))
    }

    /// Parses a number that is not negative.
    pub(super) fn number(&self, field: &str, text: &str) -> Read<Decimal> {
        number::parse(self.short(field, text)?).map_err(|error| self.refuse(field, error))
    }

    /// Parses a number followed by `unit`.
    pub(super) fn number_in(&self, field: &str, text: &str, unit: &str) -> Read<Decimal> {
        let typed = self.short(field, text)?;
        let number = typed.strip_suffix(unit).ok_or_else(|| {
            self.refuse(field, format!("Enter a number with its unit, such as 1.5 {unit}."))
        })?;
        self.number(field, number)
    }

    /// Parses a temperature.
    pub(super) fn temperature(&self, field: &str, text: &str) -> Read<Temperature> {
        Temperature::parse(self.short(field, text)?).map_err(|error| self.refuse(field, error))
    }

    /// Parses a density with its temperature, 20 °C if none is given.
    pub(super) fn density(&self, field: &str, text: &str) -> Read<Sourced<Density>> {
        judgement::measured::density(self.short(field, text)?).map_err(|error| self.refuse(field, error))
    }

    /// Parses a word of a fixed list.
    pub(super) fn word<T: FromStr<Err = UnknownWord>>(&self, field: &str, text: &str) -> Read<T> {
        text.parse().map_err(|error: UnknownWord| self.refuse(field, error))
    }

    /// Parses an optional field.
    pub(super) fn optional<T>(
        &self,
        text: Option<&String>,
        read: impl FnOnce(&Self, &str) -> Read<T>,
    ) -> Read<Option<T>> {
        text.map(|text| read(self, text)).transpose()
    }

    /// Refuses a list that is empty or longer than `most`.
    pub(super) fn count(&self, field: &str, count: usize, most: usize) -> Read<()> {
        if (1..=most).contains(&count) {
            return Ok(());
        }
        Err(self.refuse(field, format!("Send 1 to {most} items. The list has {count}.")))
    }

    /// Parses a list of 1 to `most` items, each at its own place.
    pub(super) fn each<T, U>(
        &self,
        field: &str,
        items: &[T],
        most: usize,
        read: impl Fn(&Self, &T) -> Read<U>,
    ) -> Read<Vec<U>> {
        self.count(field, items.len(), most)?;
        let list = self.within(field);
        let mut errors = Vec::new();
        let mut found = Vec::with_capacity(items.len());
        for (at, item) in items.iter().enumerate() {
            match read(&list.within(at), item) {
                Ok(item) => found.push(item),
                Err(Refused(refused)) => errors.extend(refused),
            }
        }
        if errors.is_empty() { Ok(found) } else { Err(Refused(errors)) }
    }

    /// The result of a calculation. A refusal is placed at the field that it names.
    pub(super) fn worked<T>(&self, answer: std::result::Result<T, galenics::Refusal>) -> Read<T> {
        self.worked_as(&[], answer)
    }

    /// As [`worked`](Self::worked), with pairs of a field's name in the calculation and in the request.
    pub(super) fn worked_as<T>(
        &self,
        names: &[(&str, &str)],
        answer: std::result::Result<T, galenics::Refusal>,
    ) -> Read<T> {
        answer.map_err(|refusal| {
            let ours = names.iter().find(|(theirs, _)| *theirs == refusal.field).map(|(_, ours)| *ours);
            self.refuse(ours.unwrap_or(refusal.field), refusal.says)
        })
    }

    fn short<'t>(&self, field: &str, text: &'t str) -> Read<&'t str> {
        let typed = text.trim();
        if typed.len() > LONGEST {
            return Err(
                self.refuse(field, format!("The text is too long. Enter at most {LONGEST} characters."))
            );
        }
        Ok(typed)
    }
}

/// The basis of a share.
#[derive(Clone, Copy)]
pub(super) enum Basis {
    /// Strength by volume at 20 °C.
    ByVolume,
    /// By mass.
    ByMass,
    /// Mass in mass or volume in volume; both are accepted.
    Any,
}

impl Basis {
    const fn accepted(self) -> &'static [&'static str] {
        match self {
            Self::ByVolume => &["v/v", "vol", "vol."],
            Self::ByMass => &["w/w", "m/m"],
            Self::Any => &["v/v", "vol", "vol.", "w/w", "m/m"],
        }
    }

    const fn said(self) -> &'static str {
        match self {
            Self::ByVolume => " by volume",
            Self::ByMass => " by mass",
            Self::Any => "",
        }
    }
}

/// A tuple of parsed fields that can be joined.
pub(super) trait Together {
    /// The parsed fields.
    type Fields;
    /// The parsed fields, or every refusal.
    fn together(self) -> Read<Self::Fields>;
}

macro_rules! together {
    ($(($($name:ident),+)),+) => {$(
        impl<$($name),+> Together for ($(Read<$name>,)+) {
            type Fields = ($($name,)+);
            #[expect(non_snake_case, reason = "a type parameter names the field that has its type")]
            fn together(self) -> Read<Self::Fields> {
                match self {
                    ($(Ok($name),)+) => Ok(($($name,)+)),
                    ($($name,)+) => {
                        let mut errors = Vec::new();
                        $(if let Err(Refused(refused)) = $name { errors.extend(refused); })+
                        Err(Refused(errors))
                    }
                }
            }
        }
    )+};
}
together!((A, B), (A, B, C), (A, B, C, D), (A, B, C, D, E), (A, B, C, D, E, F));

/// Joins a tuple of parsed fields: all fields, or every refusal.
pub(super) fn all<T: Together>(fields: T) -> Read<T::Fields> {
    fields.together()
}
