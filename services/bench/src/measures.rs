//! Masses of what was typed at the bench: a mass as it is, a volume, spoons and drops by the density and the drops of the
//! line in the recipe of the batch, which are kept with it. What was typed is kept as typed.

use galenics::{Customary, Decimal, Measure, Quantity, number};
use recipes::stored::{Exact, Line, Recipe};
use wire::bench::Entry;

/// What turns a volume into a mass: the density of a line or of the product, and drops in a millilitre.
struct By<'r> {
    name: &'r str,
    g_per_ml: Option<Decimal>,
    drops_per_ml: Option<Decimal>,
}

impl<'r> By<'r> {
    fn of(recipe: &'r Recipe, line: Option<&'r Line>) -> Self {
        match line {
            Some(line) => Self {
                name: &line.name,
                g_per_ml: recipe.density(line),
                drops_per_ml: line.drops_per_ml.map(|Exact(drops)| drops),
            },
            None => Self { name: "the product", g_per_ml: recipe.product_density(), drops_per_ml: None },
        }
    }

    fn ml(&self, quantity: &Quantity) -> Result<Decimal, String> {
        quantity.volume(self.drops_per_ml).map(|volume| volume.ml()).ok_or_else(|| {
            format!(
                "The drops per mL of {} are not recorded. Enter them, such as 12 drops at 25 per mL, or enter \
                 the mass, such as 0.2 g.",
                self.name
            )
        })
    }
}

/// The mass of an entry in g.
///
/// # Errors
/// Returns a sentence for the user, if the text is no quantity, or a density or the drops in a mL are not known.
pub(crate) fn grams(
    text: &str,
    recipe: &Recipe,
    line: Option<&Line>,
    customary: Customary,
) -> Result<Decimal, String> {
    let quantity = Quantity::parse_with(text, customary).map_err(|error| error.to_string())?;
    let grams = match quantity.measure() {
        Measure::Mass(mass) => mass.g(),
        Measure::Volume(_) | Measure::Drops { .. } => {
            let by = By::of(recipe, line);
            let ml = by.ml(&quantity)?;
            by.g_per_ml.and_then(|density| ml.checked_mul(density)).ok_or_else(|| {
                format!("The density of {} is unknown. Weigh it and enter the mass, such as 30.1 g.", by.name)
            })?
        }
    };
    if grams > Decimal::ZERO && grams < Decimal::from(1_000_000_000) {
        Ok(grams.round_dp(12))
    } else {
        Err("Enter a mass above 0 g and below 1000 t.".into())
    }
}

/// By which drops and density the typed volume of an entry became grams; `None` for a mass.
pub(crate) fn converted_by(recipe: &Recipe, entry: &Entry, customary: Customary) -> Option<String> {
    let typed = entry.quantity.as_deref()?;
    let quantity = Quantity::parse_with(typed, customary).ok()?;
    let line = entry.line.as_deref().and_then(|wanted| recipe.lines().find(|line| line.line == wanted));
    let by = By::of(recipe, line);
    let density = by.g_per_ml?.round_dp(4).normalize();
    match quantity.measure() {
        Measure::Mass(_) => None,
        Measure::Volume(_) => Some(format!("{typed}, {density} g/mL")),
        Measure::Drops { per_ml: Some(_), .. } => Some(format!("{typed}, {density} g/mL")),
        Measure::Drops { per_ml: None, .. } => {
            Some(format!("{typed} at {} drops per mL, {density} g/mL", by.drops_per_ml?.normalize()))
        }
    }
}

/// Parses a pH from 0 to 14, with or without the prefix `pH`.
pub(crate) fn ph(text: &str) -> Result<Decimal, String> {
    let cure = "Enter a pH from 0 to 14, such as 4.8.";
    let typed = text.trim();
    let ph = number::parse(typed.strip_prefix("pH").unwrap_or(typed)).map_err(|_| cure.to_owned())?;
    if ph <= Decimal::from(14) { Ok(ph.round_dp(6)) } else { Err(cure.to_owned()) }
}
