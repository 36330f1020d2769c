//! The quantity that a recipe is requested for: parsing of the request, and refusals at its fields.

use std::borrow::Cow;

use chrono::Datelike;
use galenics::dose::Application;
use galenics::{
    Balance, Decimal, Density, Evaluation, Fraction, Losses, Mass, Measure, Quantity, ScaleProblem, Sourced,
    Target,
};
use judgement::place::line_index;
use store::{Error, Result};
use wire::problem::FieldError;
use wire::recipe::MakeFor;

/// A parsed request for a quantity.
pub(crate) struct Asked {
    /// `None` for the formula's own quantity.
    pub(crate) target: Option<Target>,
    pub(crate) losses: Losses,
    pub(crate) balance: Option<Balance>,
    /// The quantity used in one application.
    pub(crate) application: Option<Application>,
    /// The measured density of the product.
    pub(crate) density: Option<Sourced<Density>>,
    /// The request in words.
    pub(crate) words: String,
    field: &'static str,
    /// Prefix of a field: `?` in a query, or the start of a JSON pointer in a body.
    prefix: &'static str,
}

impl Asked {
    /// [`Error::Invalid`] for one field of the request.
    pub(crate) fn refuse(&self, field: &str, detail: String) -> Error {
        Error::field(format!("{}{field}", self.prefix), detail)
    }

    /// The evaluation with the measured density, if one was given.
    pub(crate) fn measured<'e>(&self, evaluation: &'e Evaluation) -> Cow<'e, Evaluation> {
        match &self.density {
            Some(density) => Cow::Owned(evaluation.measured(density)),
            None => Cow::Borrowed(evaluation),
        }
    }

    /// The refusal for a failed scaling, at the field that must change.
    pub(crate) fn refused(&self, problem: &ScaleProblem) -> Error {
        let field = match problem.field() {
            "losses" if self.losses.transfer == Fraction::default() => "evaporation_loss",
            "losses" => "transfer_loss",
            "quantity" => self.field,
            other => other,
        };
        self.refuse(field, problem.to_string())
    }
}

/// Parses a request. `prefix` is `?` for a query, or the start of a JSON pointer for a body.
///
/// # Errors
/// Returns [`Error::Invalid`] with every field that cannot be read, or if losses are given without a quantity.
pub(crate) fn asked(ask: &MakeFor, customary: galenics::Customary, prefix: &'static str) -> Result<Asked> {
    let mut reader = Reader { errors: Vec::new(), customary, prefix };
    let mut words = Vec::new();
    let (target, field) = reader.target(ask, &mut words);
    let mut losses = Losses::default();
    for (field, text, loss) in [
        ("transfer_loss", &ask.transfer_loss, &mut losses.transfer),
        ("evaporation_loss", &ask.evaporation_loss, &mut losses.evaporation),
    ] {
        if let Some(text) = text {
            *loss = reader.percent(field, text);
            words.push(format!("{} {}", text.trim(), field.replace('_', " ")));
        }
    }
    let balance = ask.readability.as_ref().and_then(|text| {
        words.push(format!("balance readable to {}", text.trim()));
        reader.balance(text)
    });
    let density = ask.density.as_ref().and_then(|text| {
        words.push(format!("density {}", text.trim()));
        reader.density(text)
    });
    let application = ask.application.as_ref().and_then(|text| reader.application(text));
    if ask.made_on.is_some_and(|day| !(1900..=2200).contains(&day.year())) {
        reader.refuse("made_on", "Enter a day of making between 1900 and 2200, such as 2026-03-21.");
    }
    if !reader.errors.is_empty() {
        return Err(Error::Invalid(reader.errors));
    }
    if target.is_none() && losses != Losses::default() {
        return Err(Error::field(
            format!("{prefix}transfer_loss"),
            "Losses apply to a requested quantity. Send mass, volume, containers with fill, or line with line_amount.",
        ));
    }
    if target.is_none() {
        words.insert(0, "the formula's own quantity".into());
    }
    Ok(Asked { target, losses, balance, application, density, words: words.join(", "), field, prefix })
}

struct Reader {
    errors: Vec<FieldError>,
    customary: galenics::Customary,
    prefix: &'static str,
}

impl Reader {
    fn refuse(&mut self, field: &str, detail: impl Into<String>) {
        self.errors.push(FieldError::new(format!("{}{field}", self.prefix), detail));
    }

    fn target(&mut self, ask: &MakeFor, words: &mut Vec<String>) -> (Option<Target>, &'static str) {
        let ways = [
            ask.mass.is_some(),
            ask.volume.is_some(),
            ask.containers.is_some() || ask.fill.is_some(),
            ask.line.is_some() || ask.line_amount.is_some(),
        ];
        if ways.iter().filter(|way| **way).count() > 1 {
            self.refuse(
                "mass",
                "Send only one quantity: mass, volume, containers with fill, or line with line_amount.",
            );
            return (None, "mass");
        }
        if let Some(text) = &ask.mass {
            words.push(text.trim().to_owned());
            return (self.quantity("mass", text).map(Target::ByMass), "mass");
        }
        if let Some(text) = &ask.volume {
            words.push(text.trim().to_owned());
            return (self.quantity("volume", text).map(Target::ByVolume), "volume");
        }
        match (ask.containers, &ask.fill) {
            (Some(count), Some(text)) => {
                words.push(format!("{count} containers of {}", text.trim()));
                return (self.quantity("fill", text).map(|fill| Target::Containers { count, fill }), "fill");
            }
            (Some(_), None) => self.refuse("fill", "Enter the fill of each container, such as 30 g."),
            (None, Some(_)) => self.refuse("containers", "Enter the number of containers, such as 12."),
            (None, None) => {}
        }
        match (&ask.line, &ask.line_amount) {
            (Some(line), Some(text)) => {
                words.push(format!("{} of line {}", text.trim(), line.trim()));
                let Some((phase, line)) = line_index(line) else {
                    self.refuse("line", "Enter a line as phase and line, counted from 1, such as 1.2.");
                    return (None, "line");
                };
                let quantity = self.quantity("line_amount", text);
                return (quantity.map(|quantity| Target::ByLine { phase, line, quantity }), "line_amount");
            }
            (Some(_), None) => {
                self.refuse("line_amount", "Enter the available amount of the line, such as 2.5 cups.")
            }
            (None, Some(_)) => self.refuse("line", "Enter the line, such as 1.1."),
            (None, None) => {}
        }
        (None, "mass")
    }

    fn quantity(&mut self, field: &str, text: &str) -> Option<Quantity> {
        match Quantity::parse_with(text, self.customary) {
            Ok(quantity) => Some(quantity),
            Err(error) => {
                let meant = Quantity::meant(text, self.customary);
                let refused = FieldError::new(format!("{}{field}", self.prefix), error.to_string());
                self.errors.push(refused.or(meant));
                None
            }
        }
    }

    fn percent(&mut self, field: &str, text: &str) -> Fraction {
        let number =
            text.trim().strip_suffix('%').map(str::trim).and_then(|number| number.parse::<Decimal>().ok());
        match number.map(Fraction::percent) {
            Some(Ok(fraction)) => fraction,
            Some(Err(error)) => {
                self.refuse(field, error.to_string());
                Fraction::default()
            }
            None => {
                self.refuse(field, format!("{text:?} is not a percentage. Enter a percentage, such as 4 %."));
                Fraction::default()
            }
        }
    }

    /// Parses the quantity of one application. A bare unit such as `teaspoon` means one of it.
    fn application(&mut self, text: &str) -> Option<Application> {
        let typed = text.trim();
        let counted = if typed.starts_with(|c: char| c.is_alphabetic()) {
            format!("1 {typed}")
        } else {
            typed.to_owned()
        };
        let quantity = self.quantity("application", &counted)?;
        match quantity.measure() {
            Measure::Mass(mass) => Some(Application::Weighed(mass)),
            Measure::Volume(_) | Measure::Drops { .. } => {
                let volume = quantity.volume(None);
                if volume.is_none() {
                    let cure = "Enter the drops per mL as well, such as 20 drops at 25 per mL.";
                    self.refuse("application", cure);
                }
                volume.map(Application::Measured)
            }
        }
    }

    fn density(&mut self, text: &str) -> Option<Sourced<Density>> {
        match judgement::measured::density(text.trim()) {
            Ok(density) => Some(density),
            Err(cure) => {
                self.refuse("density", cure);
                None
            }
        }
    }

    fn balance(&mut self, text: &str) -> Option<Balance> {
        let mass: Mass = match self.quantity("readability", text)?.measure() {
            Measure::Mass(mass) => mass,
            Measure::Volume(_) | Measure::Drops { .. } => {
                self.refuse("readability", "Enter the readability of the balance as a mass, such as 0.1 g.");
                return None;
            }
        };
        match Balance::reading(mass) {
            Ok(balance) => Some(balance),
            Err(error) => {
                self.refuse("readability", error.to_string());
                None
            }
        }
    }
}
