//! Fresh herbs: what they are worth as dried, and how strong the menstruum must be so that, thinned by their
//! juice, the finished liquid still has the wanted strength.

use rust_decimal::Decimal;
use serde::Serialize;

use crate::{
    Figure, Fraction, Input, Mass, Quantity, Refusal, Rule, Source, Status, Volume, alcohol,
    number::{HUNDRED, divide, from_f64, significant, to_f64},
    units,
};

static DRIED: Rule = Rule::definition(
    "dried_for_fresh",
    "{fresh} of fresh herb with {water} of water equals {=} dried to {dried water} of water",
);
static FRESH: Rule = Rule::definition(
    "fresh_for_dried",
    "{dried} of dried herb with {dried water} of water equals {=} fresh with {water} of water",
);
static JUICE: Rule = Rule::definition("juice", "water from the herb: {=}");
static POURED_MASS: Rule = Rule::new(
    "menstruum_mass",
    "mass of {volume} of menstruum at 20 °C: {=}",
    Source::fixed("OIML R 22, density formula", Status::Verified),
);
static POURED: Rule = Rule::new(
    "menstruum_poured",
    "volume of {mass} of menstruum at 20 °C: {=}",
    Source::fixed("OIML R 22, density formula", Status::Verified),
);
static MENSTRUUM: Rule = Rule::new(
    "menstruum_for_fresh",
    "strength of menstruum at 20 °C for {wanted} after the herb's water is added: {=}",
    Source::fixed("ethanol and water conserved; strengths by OIML R 22", Status::Verified),
);

fn solids(field: &'static str, mass: Mass, water: Fraction, other: Fraction) -> Result<Decimal, Refusal> {
    let other = other.rest().get();
    if other.is_zero() || water == Fraction::ONE {
        return Err(Refusal::out_of_range("water", "The water content of a herb must be below 100 %."));
    }
    mass.g()
        .checked_mul(water.rest().get())
        .and_then(|solids| divide(solids, other))
        .ok_or(Refusal::too_large(field))
}

/// The dried herb that a fresh herb is worth: `fresh (1 - water) / (1 - dried water)`.
///
/// # Errors
/// Refuses water of 100 per cent.
pub fn dried_for_fresh(fresh: Mass, water: Fraction, dried_water: Fraction) -> Result<Figure, Refusal> {
    let value = solids("fresh", fresh, water, dried_water)?;
    let inputs = vec![
        Input::number("fresh", fresh.g(), units::GRAM),
        Input::number("water", water.get(), units::SHARE_OF_MASS),
        Input::number("dried water", dried_water.get(), units::SHARE_OF_MASS),
    ];
    Ok(Figure::number(value, units::GRAM, &DRIED, inputs))
}

/// The fresh herb that takes the place of a dried one: `dried (1 - dried water) / (1 - water)`.
///
/// # Errors
/// Refuses water of 100 per cent.
pub fn fresh_for_dried(dried: Mass, dried_water: Fraction, water: Fraction) -> Result<Figure, Refusal> {
    let value = solids("dried", dried, dried_water, water)?;
    let inputs = vec![
        Input::number("dried", dried.g(), units::GRAM),
        Input::number("water", water.get(), units::SHARE_OF_MASS),
        Input::number("dried water", dried_water.get(), units::SHARE_OF_MASS),
    ];
    Ok(Figure::number(value, units::GRAM, &FRESH, inputs))
}

/// A menstruum as it is asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Poured {
    /// Weighed.
    Weighed(Mass),
    /// Measured at 20 °C.
    Measured(Volume),
}

impl Poured {
    /// In g, at the strength by mass `p`.
    fn grams(self, p: f64) -> Result<f64, Refusal> {
        Ok(match self {
            Self::Weighed(mass) => to_f64(mass.g()),
            Self::Measured(volume) => to_f64(volume.ml()) * g_per_ml(p)?,
        })
    }
}

fn g_per_ml(p: f64) -> Result<f64, Refusal> {
    Ok(alcohol::density(p.clamp(0.0, 1.0), 20.0)? / 1000.0)
}

/// The menstruum for a fresh herb.
#[derive(Debug, Clone, Serialize)]
pub struct FreshMenstruum {
    /// The menstruum, in g.
    pub mass: Figure,
    /// The menstruum at 20 °C, in mL: what is poured.
    pub volume: Figure,
    /// Of it, the strongest spirit, in mL at 20 °C.
    pub spirit: Option<Figure>,
    /// And the water, in mL at 20 °C: more than the difference, since the two contract.
    pub water: Option<Figure>,
    /// The water that the herb brings, in g.
    pub juice: Figure,
    /// The strength that the menstruum needs, by volume at 20 °C.
    pub strength: Figure,
}

/// The strength by mass that a menstruum needs, so that with the juice the liquid has `p`. Of a measured one the mass
/// depends on the strength: the lighter the stronger, so that the step is repeated until it stands still.
fn needed(menstruum: Poured, juice_g: f64, p: f64) -> Result<f64, Refusal> {
    let mut found = p;
    for _ in 0..100 {
        let grams = menstruum.grams(found)?;
        let next = p * (grams + juice_g) / grams;
        if (next - found).abs() < 1e-15 {
            return Ok(next);
        }
        found = next;
    }
    Ok(found)
}

/// How strong a menstruum must be so that with the fresh herb's water it comes to a strength by volume
/// at 20 °C. `strongest` is the strongest spirit at hand.
///
/// # Errors
/// Refuses a strength that even the strongest spirit does not reach, with the mass of it that would.
pub fn menstruum_for_fresh(
    herb: Mass,
    water: Fraction,
    menstruum: Poured,
    wanted: Fraction,
    strongest: Fraction,
) -> Result<FreshMenstruum, Refusal> {
    if menstruum.grams(0.0)? <= 0.0 {
        return Err(Refusal::out_of_range("menstruum", "Enter a menstruum above 0 g or 0 mL."));
    }
    let juice = herb.g().checked_mul(water.get()).ok_or(Refusal::too_large("herb"))?;
    let juice_g = to_f64(juice);
    let p = alcohol::by_mass(to_f64(wanted.get()), 20.0)?;
    let p_strongest = alcohol::by_mass(to_f64(strongest.get()), 20.0)?;
    let needed = needed(menstruum, juice_g, p)?;
    if needed > p_strongest {
        let percent = |share: Fraction| significant(share.get() * HUNDRED, 4);
        let says = if p_strongest > p {
            let enough =
                from_f64(p * juice_g / (p_strongest - p)).map_or(Decimal::ZERO, |mass| significant(mass, 4));
            format!(
                "With {} % spirit, at least {enough} g is needed to reach {} %. Use more or stronger spirit.",
                percent(strongest),
                percent(wanted)
            )
        } else {
            format!(
                "Spirit of {} % cannot reach {} % in any amount. Use stronger spirit.",
                percent(strongest),
                percent(wanted)
            )
        };
        return Err(Refusal::impossible("wanted", says));
    }
    let strength = alcohol::by_volume(needed, 20.0)?;
    let unknown = || Refusal::too_large("menstruum");
    let mass = from_f64(menstruum.grams(needed)?).ok_or_else(unknown)?;
    let ml = match menstruum {
        Poured::Measured(volume) => volume.ml(),
        Poured::Weighed(mass) => from_f64(to_f64(mass.g()) / g_per_ml(needed)?).ok_or_else(unknown)?,
    };
    let of = from_f64(strength).and_then(|strength| Fraction::new(strength).ok());
    let poured = Quantity::of_mass(Mass::grams(mass).map_err(|_| unknown())?);
    let mixed = of.and_then(|of| alcohol::dilute_with(&poured, of, strongest, Fraction::ZERO).ok());
    let weighs = vec![Input::number("volume", ml, units::MILLILITRE)];
    let fills = vec![Input::number("mass", mass, units::GRAM)];
    let inputs = vec![
        Input::number("wanted", wanted.get(), units::SHARE_OF_VOLUME),
        Input::number("menstruum", mass, units::GRAM),
        Input::number("juice", juice, units::GRAM),
    ];
    let herb_inputs = vec![
        Input::number("herb", herb.g(), units::GRAM),
        Input::number("water", water.get(), units::SHARE_OF_MASS),
    ];
    Ok(FreshMenstruum {
        mass: Figure::number(mass, units::GRAM, &POURED_MASS, weighs),
        volume: Figure::number(ml, units::MILLILITRE, &POURED, fills),
        spirit: mixed.as_ref().map(|mixed| mixed.stock_volume.clone()),
        water: mixed.as_ref().map(|mixed| mixed.diluent_volume.clone()),
        juice: Figure::number(juice, units::GRAM, &JUICE, herb_inputs),
        strength: Figure::from_result(
            from_f64(strength).ok_or_else(|| crate::Unknown::of("strength")),
            units::SHARE_OF_VOLUME,
            &MENSTRUUM,
            inputs,
        ),
    })
}
