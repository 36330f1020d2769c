//! The watery phase of what is made: what of it is alcohol, glycerol and sugar, and how concentrated something
//! is in it rather than in the whole.

use rust_decimal::Decimal;
use serde::Serialize;

use crate::{
    Evaluation, Figure, Fraction, Input, MaterialKind, Rule, Text, Unknown, alcohol_content::alcohol_content,
    number::divide, units,
};

static SHARE: Rule = Rule::definition(
    "share_of_watery_phase",
    "water phase (water, alcohol and dissolved humectants, sugars and acids) in the product: {=}",
);

/// The watery phase.
#[derive(Debug, Clone, Serialize)]
pub struct WateryPhase {
    /// Its share by mass of what is made.
    pub share: Figure,
    /// Alcohol by volume of its water and alcohol, at 20 °C.
    pub alcohol: Fraction,
    /// Glycerol by mass of it.
    pub glycerol: Fraction,
    /// Sugar by mass of it.
    pub sugar: Fraction,
    /// Water by mass of it.
    pub water: Fraction,
    /// Ethanol that is shown to remain, by mass of it.
    pub ethanol: Fraction,
}

impl WateryPhase {
    /// What a share of the whole is in the watery phase, at most all of it.
    #[must_use]
    pub fn concentration(&self, share_of_whole: Decimal) -> Option<Fraction> {
        let value = divide(share_of_whole, self.share.value()?)?;
        Fraction::new(value.min(Decimal::ONE)).ok()
    }
}

/// The watery phase of what a formula makes. `glycerol` are the ids of materials that are glycerol.
///
/// # Errors
/// What is missing where its share cannot be known.
pub fn watery_phase(evaluation: &Evaluation, glycerol: &[Text]) -> Result<WateryPhase, Unknown> {
    let (mut all, mut of_glycerol, mut of_sugar) = (Decimal::ZERO, Decimal::ZERO, Decimal::ZERO);
    let (mut of_water, mut of_ethanol) = (Decimal::ZERO, Decimal::ZERO);
    let mut inputs = Vec::new();
    for leaf in &evaluation.composition {
        let kind = leaf.material.kind;
        let is_glycerol = glycerol.contains(&leaf.material.id);
        let dissolves = kind.is_water()
            || is_glycerol
            || leaf.material.ethanol_by_volume.is_some()
            || matches!(
                kind,
                MaterialKind::Ethanol | MaterialKind::Solvent | MaterialKind::Humectant | MaterialKind::Sugar
            );
        let of = leaf.material.solution()?;
        // Of milk, egg or fresh herb only the water joins the phase; of a syrup or vinegar all of it.
        let joins = if dissolves { Decimal::ONE } else { of.water };
        if joins.is_zero() {
            continue;
        }
        let whole = leaf.share.known()?;
        let share = whole.saturating_mul(joins);
        of_water += whole.saturating_mul(of.water);
        of_ethanol += whole.saturating_mul(of.ethanol);
        inputs.push(Input::number(leaf.material.name.clone(), share, units::SHARE_OF_MASS));
        all += share;
        let dry = share.saturating_mul(Decimal::ONE - of.water);
        if is_glycerol {
            of_glycerol += dry;
        } else if kind == MaterialKind::Sugar {
            of_sugar += dry;
        }
    }
    if let Some(gone) = evaluation.evaporated.as_ref().filter(|gone| gone.of_spirit) {
        (of_water, of_ethanol) = (gone.water_at_most.min(all), gone.ethanol_at_least);
    }
    let part = |of: Decimal| Fraction::new(divide(of, all).unwrap_or_default()).unwrap_or_default();
    let alcohol = match alcohol_content(evaluation).shown_to_remain {
        figure if figure.unknown().is_some() => {
            return Err(figure.known().err().unwrap_or(Unknown::of("alcohol")));
        }
        figure => Fraction::new(figure.value().unwrap_or_default()).unwrap_or_default(),
    };
    Ok(WateryPhase {
        share: Figure::number(all, units::SHARE_OF_MASS, &SHARE, inputs),
        alcohol,
        glycerol: part(of_glycerol),
        sugar: part(of_sugar),
        water: part(of_water),
        ethanol: part(of_ethanol),
    })
}
