//! The fields of a question, read into what the calculations work with. Every field that cannot be read is refused
//! at its JSON pointer with what would be accepted, all of them together.

use std::str::FromStr;

use galenics::{
    Customary, Decimal, Density, Fraction, Mass, Measure, Quantity, QuantityError, Sourced, Temperature,
    UnknownWord, Volume, number,
};
use store::{Error, Result, Tx};
use wire::problem::FieldError;

/// Fields that were refused.
pub(super) struct Refused(Vec<FieldError>);

/// What reading a field answers.
pub(super) type Read<T> = std::result::Result<T, Refused>;

impl Refused {
    /// Everything that was refused.
    pub(super) fn together(all: impl Iterator<Item = Self>) -> Self {
        Self(all.flat_map(|refused| refused.0).collect())
    }
}

impl From<Refused> for Error {
    fn from(refused: Refused) -> Self {
        Self::Invalid(refused.0)
    }
}

/// The longest text that is read as a number, share or density.
const LONGEST: usize = 80;

/// Where in the request fields are read, and in which household measures.
#[derive(Clone)]
pub(super) struct Form {
    at: String,
    customary: Customary,
}

impl Form {
    /// The top of a request, in the clinic's customary measures.
    pub(super) async fn of(tx: &mut Tx<'_>) -> Result<Self> {
        Ok(Self { at: String::new(), customary: policy::rules(tx).await?.customary })
    }

    /// The fields one step further in.
    pub(super) fn within(&self, step: impl std::fmt::Display) -> Self {
        Self { at: format!("{}/{step}", self.at), customary: self.customary }
    }

    /// Which cup a bare cup is.
    pub(super) const fn customary(&self) -> Customary {
        self.customary
    }

    /// The JSON pointer of a field; of an item of a list, whose place has no name of its own, that of the item.
    pub(super) fn pointer(&self, field: &str) -> String {
        if field.is_empty() { self.at.clone() } else { format!("{}/{field}", self.at) }
    }

    /// Refuses a field.
    pub(super) fn refuse(&self, field: &str, detail: impl std::fmt::Display) -> Refused {
        Refused(vec![FieldError::new(self.pointer(field), detail.to_string())])
    }

    /// A quantity with its unit.
    pub(super) fn quantity(&self, field: &str, text: &str) -> Read<Quantity> {
        Quantity::parse_with(text, self.customary).map_err(|error| self.refuse(field, error))
    }

    /// A quantity that must be a mass.
    pub(super) fn mass(&self, field: &str, text: &str) -> Read<Mass> {
        match self.quantity(field, text)?.measure() {
            Measure::Mass(mass) => Ok(mass),
            Measure::Volume(_) | Measure::Drops { .. } => {
                Err(self.refuse(field, "give it by mass, like 80 g, 250 mg or 2 oz"))
            }
        }
    }

    /// A quantity that must be a volume; drops only with how many make a mL.
    pub(super) fn volume(&self, field: &str, text: &str) -> Read<Volume> {
        self.quantity(field, text)?.volume(None).ok_or_else(|| {
            self.refuse(field, "give it by volume, like 25 mL, 2 fl oz or 20 drops at 25 per mL")
        })
    }

    /// As [`volume`](Self::volume), where none at all is an answer too.
    pub(super) fn volume_or_none(&self, field: &str, text: &str) -> Read<Volume> {
        match Quantity::parse_with(text, self.customary) {
            Err(QuantityError::Number(galenics::NumberError::Zero)) => {
                Volume::millilitres(Decimal::ZERO).map_err(|error| self.refuse(field, error))
            }
            _ => self.volume(field, text),
        }
    }

    /// A share in per cent, on the one basis that makes sense for the field.
    pub(super) fn share(&self, field: &str, text: &str, basis: Basis) -> Read<Fraction> {
        let example = || self.refuse(field, format!("write a share in per cent{}, like 40 %", basis.said()));
        let (percent, stated) = self.short(field, text)?.split_once('%').ok_or_else(example)?;
        let stated = stated.trim();
        if !stated.is_empty() && !basis.accepted().contains(&stated) {
            return Err(example());
        }
        let percent = number::parse(percent)
            .map_err(|error| self.refuse(field, format!("{error}; 0 to 100 % is accepted")))?;
        Fraction::percent(percent).map_err(|error| self.refuse(field, error))
    }

    /// A plain number, not negative.
    pub(super) fn number(&self, field: &str, text: &str) -> Read<Decimal> {
        number::parse(self.short(field, text)?).map_err(|error| self.refuse(field, error))
    }

    /// A number followed by one unit.
    pub(super) fn number_in(&self, field: &str, text: &str, unit: &str) -> Read<Decimal> {
        let typed = self.short(field, text)?;
        let number = typed
            .strip_suffix(unit)
            .ok_or_else(|| self.refuse(field, format!("write a number and its unit, like 1.5 {unit}")))?;
        self.number(field, number)
    }

    /// A temperature.
    pub(super) fn temperature(&self, field: &str, text: &str) -> Read<Temperature> {
        Temperature::parse(self.short(field, text)?).map_err(|error| self.refuse(field, error))
    }

    /// A density with the temperature it was measured at, 20 °C where none is said.
    pub(super) fn density(&self, field: &str, text: &str) -> Read<Sourced<Density>> {
        judgement::measured::density(self.short(field, text)?).map_err(|error| self.refuse(field, error))
    }

    /// One word of a list of the trade's words.
    pub(super) fn word<T: FromStr<Err = UnknownWord>>(&self, field: &str, text: &str) -> Read<T> {
        text.parse().map_err(|error: UnknownWord| self.refuse(field, error))
    }

    /// A field that may be left out.
    pub(super) fn optional<T>(
        &self,
        text: Option<&String>,
        read: impl FnOnce(&Self, &str) -> Read<T>,
    ) -> Read<Option<T>> {
        text.map(|text| read(self, text)).transpose()
    }

    /// How many of something there may be.
    pub(super) fn count(&self, field: &str, count: usize, most: usize) -> Read<()> {
        if (1..=most).contains(&count) {
            return Ok(());
        }
        Err(self.refuse(field, format!("give from 1 to {most}; there are {count}")))
    }

    /// A list of so many items at most, each read within its own place.
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

    /// What the calculations answered, their refusal at the field of the same name.
    pub(super) fn worked<T>(&self, answer: std::result::Result<T, galenics::Refusal>) -> Read<T> {
        self.worked_as(&[], answer)
    }

    /// As [`worked`](Self::worked), where the calculations know a field by another name: pairs of theirs and ours.
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
            return Err(self.refuse(field, format!("too long: at most {LONGEST} characters")));
        }
        Ok(typed)
    }
}

/// On which basis a share is meant.
#[derive(Clone, Copy)]
pub(super) enum Basis {
    /// Strength by volume at 20 °C.
    ByVolume,
    /// By mass.
    ByMass,
    /// Like in like, whichever it is.
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

/// Fields that were read side by side: all of them, or everything that was refused.
pub(super) trait Together {
    /// The fields as read.
    type Fields;
    /// All of them.
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

/// Fields that were read side by side: all of them, or everything that was refused.
pub(super) fn all<T: Together>(fields: T) -> Read<T::Fields> {
    fields.together()
}
