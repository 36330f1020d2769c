//! Masses of what is typed of a lot: a mass as it is, a volume by the density of the material.

use std::sync::Arc;

use galenics::{Customary, Decimal, Measure, Quantity};
use judgement::lot;
use materia::Material;
use store::{Error, Result, Tx};
use uuid::Uuid;

/// A mass in g, and by which density a volume became one.
#[derive(Debug)]
pub(crate) struct Grams {
    pub(crate) grams: Decimal,
    pub(crate) converted_by: Option<String>,
}

/// The most of a lot: 1000 t.
const MOST: Decimal = Decimal::from_parts(1_000_000_000, 0, 0, false, 0);

/// What a lot is of.
#[derive(Clone, Debug)]
pub(crate) enum Of {
    /// A material, with its facts of now.
    Material(Arc<Material>),
    /// What a batch of the clinic made. Its density would tell what a formula nests, so it is weighed.
    Made,
}

/// What a lot is of, by its material.
///
/// # Errors
/// Returns [`Error::NotFound`] if there is no such material.
pub(crate) async fn what(tx: &mut Tx<'_>, material: Option<Uuid>) -> Result<Of> {
    match material {
        Some(material) => Ok(Of::Material(facts(tx, material).await?)),
        None => Ok(Of::Made),
    }
}

impl Of {
    /// The material.
    pub(crate) fn material(&self) -> Option<&Material> {
        match self {
            Self::Material(material) => Some(material),
            Self::Made => None,
        }
    }

    /// The density, in g/mL.
    fn g_per_ml(&self) -> Result<Decimal, String> {
        match self {
            Self::Made => Err("What the clinic made is weighed. Enter its mass, such as 500 g.".into()),
            Self::Material(material) => {
                material.density.as_ref().map(|density| density.g_per_ml).ok_or_else(|| {
                    format!(
                        "The density of {} is unknown. Weigh it and enter the mass, such as 500 g.",
                        material.name
                    )
                })
            }
        }
    }
}

/// The current facts of a material.
///
/// # Errors
/// Returns [`Error::NotFound`] if there is no such material.
pub(crate) async fn facts(tx: &mut Tx<'_>, material: Uuid) -> Result<Arc<Material>> {
    let mut found = materials::facts_now(tx, [(material, 0)]).await?;
    found.remove(&(material, 0)).ok_or(Error::NotFound("material"))
}

/// Reads an amount. Nothing (`0 g`) is accepted only where `zero` is.
///
/// # Errors
/// Returns a sentence for the user that says how the amount is written.
pub(crate) fn read(text: &str, of: &Of, customary: Customary, zero: bool) -> Result<Grams, String> {
    if zero && is_nothing(text) {
        return Ok(Grams { grams: Decimal::ZERO, converted_by: None });
    }
    let quantity = Quantity::parse_with(text, customary).map_err(|error| error.to_string())?;
    let (grams, converted_by) = match quantity.measure() {
        Measure::Mass(mass) => (mass.g(), None),
        Measure::Volume(volume) => {
            let density = of.g_per_ml()?;
            let grams = volume.ml().checked_mul(density).unwrap_or(MOST);
            (grams, Some(format!("{}, {} g/mL", text.trim(), density.round_dp(4).normalize())))
        }
        Measure::Drops { .. } => return Err("Drops are not stock. Enter a mass, such as 10 g.".into()),
    };
    if grams > Decimal::ZERO && grams < MOST {
        Ok(Grams { grams: grams.round_dp(12), converted_by })
    } else {
        Err("Enter a mass above 0 g and below 1000 t.".into())
    }
}

/// Whether the text is a count of nothing, such as `0 g`, which is no quantity to weigh.
fn is_nothing(text: &str) -> bool {
    let typed = text.trim();
    let unit = typed.trim_start_matches(['0', '.', ',']).trim();
    typed.starts_with('0') && unit.chars().all(char::is_alphabetic)
}

/// What a gram costs, by a price such as `12.50 per 100 g`; `None` where the density that it would take is not known.
///
/// # Errors
/// Returns a sentence for the user that says how the price is written.
pub(crate) fn price_per_gram(
    text: &str,
    material: &Material,
    currency: &str,
    customary: Customary,
) -> Result<Option<Decimal>, String> {
    let price = lot::price(text, currency, customary)?;
    let grams = match price.per.measure() {
        Measure::Mass(mass) => Some(mass.g()),
        Measure::Volume(volume) => {
            material.density.as_ref().and_then(|density| volume.ml().checked_mul(density.g_per_ml))
        }
        Measure::Drops { .. } => None,
    };
    Ok(grams.and_then(|grams| price.amount.checked_div(grams)))
}

/// A decimal without trailing zeros.
pub(crate) fn plain(value: Decimal) -> String {
    value.normalize().to_string()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_noughts_with_a_unit_are_nothing() {
        for nothing in ["0", "0 g", "0.0 kg", "0,00 mL", " 0g "] {
            assert!(is_nothing(nothing), "{nothing:?}");
        }
        for something in ["0.1 g", "10 g", "", "g", "0.01 mL", "none"] {
            assert!(!is_nothing(something), "{something:?}");
        }
    }
}
