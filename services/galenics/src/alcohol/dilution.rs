//! How much of a stronger spirit and of water, or of a weaker spirit, make a wanted strength.
//!
//! Ethanol and mass are conserved, volume is not: with p_s, p_w and p the mass fractions of stock, diluent
//! and what is wanted, the stock is `m (p - p_w) / (p_s - p_w)` of the wanted mass m.

use serde::Serialize;

use super::{
    density::{OIML_R22, density_and_slope},
    strength::{by_mass, float},
};
use crate::{
    Figure, Fraction, Input, Mass, Measure, Quantity, Refusal, Rule, Source, Status,
    number::{from_f64, significant, to_f64},
    units,
    words::words,
};

static STOCK: Rule = Rule::new(
    "dilution_stock_mass",
    "for {wanted} of {strength}, take {=} of the {stock} spirit",
    Source::fixed("ethanol and mass conserved; strengths by OIML R 22", Status::Verified),
);
static DILUENT: Rule = Rule::new(
    "dilution_diluent_mass",
    "weaker liquid: {=}",
    Source::fixed("mass conserved", Status::Definition),
);
static VOLUME: Rule = Rule::new(
    "dilution_volume",
    "{mass} at {density}: {=} at 20 °C",
    Source::fixed("OIML R 22, density formula", Status::Verified),
);
static CONTRACTION: Rule = Rule::definition("contraction", "contraction when the two volumes are mixed: {=}");
static MADE_MASS: Rule = Rule::new(
    "dilution_made_mass",
    "mass of {wanted} of {strength}: {=}",
    Source::fixed("OIML R 22, density formula", Status::Verified),
);

words! {
    /// Whether what is wanted is weighed or measured.
    DilutionBasis, "basis of a dilution" {
        ByVolume = "by volume",
        ByMass = "by mass",
    }
}

/// What to take for a dilution.
#[derive(Debug, Clone, Serialize)]
pub struct Dilution {
    /// Whether what was wanted is weighed or measured.
    pub basis: DilutionBasis,
    /// The stock, in g.
    pub stock_mass: Figure,
    /// The stock at 20 °C, in mL.
    pub stock_volume: Figure,
    /// The water or weaker spirit, in g.
    pub diluent_mass: Figure,
    /// The water or weaker spirit at 20 °C, in mL. More than the volumes' difference: the mixture contracts.
    pub diluent_volume: Figure,
    /// What is made, in g.
    pub mass: Figure,
    /// What is made at 20 °C, in mL.
    pub volume: Figure,
    /// What the two volumes lose by being mixed, in mL.
    pub contraction: Figure,
}

/// Dilutes a stock with water. Strengths are by volume at 20 °C.
///
/// # Errors
/// Refuses a wanted strength above the stock's or of zero, and says what would be possible.
/// ```
/// use galenics::{Fraction, Quantity, alcohol::dilute, number::dec};
/// let percent = |value| Fraction::percent(dec(value)).expect("a share");
/// let dilution = dilute(&Quantity::parse("1 L")?, percent("40"), percent("96")).expect("96 is stronger than 40");
/// // 416.67 mL of spirit and 612.72 mL of water make a litre: the mixture contracts.
/// assert_eq!(dilution.stock_volume.to_string(), "416.7 mL");
/// assert_eq!(dilution.diluent_volume.to_string(), "612.7 mL");
/// # Ok::<(), galenics::QuantityError>(())
/// ```
pub fn dilute(wanted: &Quantity, strength: Fraction, stock: Fraction) -> Result<Dilution, Refusal> {
    dilute_with(wanted, strength, stock, Fraction::ZERO)
}

/// Dilutes a stock with a weaker spirit, or with water where its strength is zero. Strengths are by volume
/// at 20 °C.
///
/// # Errors
/// Refuses a wanted strength outside the two, and says what would be possible.
pub fn dilute_with(
    wanted: &Quantity,
    strength: Fraction,
    stock: Fraction,
    diluent: Fraction,
) -> Result<Dilution, Refusal> {
    let percent = |share: Fraction| significant(share.get() * crate::number::HUNDRED, 6);
    if stock <= diluent {
        return Err(Refusal::impossible(
            "stock",
            format!("The stock must be stronger than the {} % liquid that dilutes it.", percent(diluent)),
        ));
    }
    if strength > stock || strength < diluent {
        return Err(Refusal::impossible(
            "strength",
            format!(
                "{} % and {} % make only strengths between them, not {} %. Choose another strength or stock.",
                percent(stock),
                percent(diluent),
                percent(strength)
            ),
        ));
    }
    let [p, p_stock, p_diluent] = [strength, stock, diluent].map(|share| by_mass(to_f64(share.get()), 20.0));
    let (p, p_stock, p_diluent) = (p?, p_stock?, p_diluent?);
    let rho = |p: f64| density_and_slope(p, 20.0).0 / 1000.0;
    let (basis, mass) = match wanted.measure() {
        Measure::Mass(mass) => (DilutionBasis::ByMass, to_f64(mass.g())),
        Measure::Volume(volume) => (DilutionBasis::ByVolume, to_f64(volume.ml()) * rho(p)),
        Measure::Drops { .. } => {
            return Err(Refusal::out_of_range(
                "wanted",
                "Enter the amount as a mass or a volume, such as 500 \
                 mL.",
            ));
        }
    };
    let stock_mass = (mass * (p - p_diluent) / (p_stock - p_diluent)).clamp(0.0, mass);
    let diluent_mass = mass - stock_mass;
    let stated = || {
        vec![
            Input::words("wanted", wanted.typed()),
            Input::number("strength", strength.get(), units::SHARE_OF_VOLUME),
            Input::number("stock", stock.get(), units::SHARE_OF_VOLUME),
            Input::number("diluent", diluent.get(), units::SHARE_OF_VOLUME),
        ]
    };
    let in_volume = |mass: f64, p: f64, of: &Figure| {
        let density = Input::constant(
            "density",
            from_f64(rho(p)).unwrap_or_default(),
            units::GRAM_PER_ML,
            OIML_R22.clone(),
        );
        float(mass / rho(p), units::MILLILITRE, &VOLUME, vec![Input::figure("mass", of), density])
    };
    let stock_figure = float(stock_mass, units::GRAM, &STOCK, stated());
    let diluent_figure = float(diluent_mass, units::GRAM, &DILUENT, stated());
    let made = float(mass, units::GRAM, &MADE_MASS, stated());
    let contraction = stock_mass / rho(p_stock) + diluent_mass / rho(p_diluent) - mass / rho(p);
    Ok(Dilution {
        basis,
        stock_volume: in_volume(stock_mass, p_stock, &stock_figure),
        diluent_volume: in_volume(diluent_mass, p_diluent, &diluent_figure),
        volume: in_volume(mass, p, &made),
        contraction: float(contraction, units::MILLILITRE, &CONTRACTION, Vec::new()),
        stock_mass: stock_figure,
        diluent_mass: diluent_figure,
        mass: made,
    })
}

impl Dilution {
    /// The stock to weigh, where it is above zero.
    #[must_use]
    pub fn stock(&self) -> Option<Mass> {
        Mass::grams(self.stock_mass.value()?).ok()
    }
}
