//! Conversion of a material of the reference data into the facts of the calculations.

use galenics::{Decimal, Density, Fraction, HerbState, MaterialFacts, Sourced, Temperature};
use materia::Material;
use uuid::Uuid;

use crate::error::{Error, Result};

/// Converts the facts of a material, under the ID `id`.
///
/// # Errors
/// Returns [`Error::Internal`] if a density, temperature or share lies outside the range of the calculations.
pub fn calculable(id: Uuid, material: &Material) -> Result<MaterialFacts> {
    let mut facts = MaterialFacts::new(id.to_string(), material.name.clone(), kind(material));
    if let Some(density) = &material.density {
        let value = Temperature::celsius(density.at_celsius)
            .and_then(|at| Density::new(density.g_per_ml, at))
            .map_err(|error| impossible(material, &error))?;
        let text = format!("{} ({})", density.source.text, density.as_published);
        facts.density = Some(Sourced::new(value, source(&text, density.status)));
    }
    if material.key == SUCROSE {
        facts.dissolved = dissolved_sucrose();
    }
    if let Some(botanical) = &material.botanical {
        facts.herb = Some(match botanical.state {
            Some(materia::State::Fresh | materia::State::Wilted) => HerbState::Fresh {
                water: percent(material, material.water_content_fresh.as_ref())?,
                dried_water: percent(material, material.water_content_dried.as_ref())?,
            },
            Some(materia::State::Dried) | None => HerbState::Dried,
        });
    }
    facts.drops_per_ml = match &material.drops_per_ml {
        Some(counted) => Some(Sourced::new(counted.value, source(&counted.source.text, counted.status))),
        None => usual_drops(facts.kind),
    };
    facts.ethanol_by_volume = percent(material, material.ethanol.as_ref())?;
    if facts.herb.is_none() {
        // What may hold none is dry: anhydrous glycerol keeps up to 2 %.
        let dissolved = material.water_content.as_ref().filter(|water| water.low > Decimal::ZERO);
        facts.water = percent(material, dissolved)?;
    }
    Ok(facts)
}

/// The sugar whose volume in a syrup is published.
const SUCROSE: &str = "sucrose";

/// Density of sucrose in its solution, by the published syrup: 850 g in a litre of specific gravity 1.313 at 25 °C, which
/// weighs 1309.1 g and so holds 459.1 g or 460.5 mL of water; the sugar fills the other 539.5 mL.
fn dissolved_sucrose() -> Option<Sourced<Density>> {
    static SYRUP: galenics::Source = galenics::Source::fixed(
        "calculated from Syrup USP, 850 g of sucrose in a litre, specific gravity 1.313 (teaching laboratory of a school of \
         pharmacy)",
        galenics::Status::Secondary,
    );
    let at = Temperature::celsius(Decimal::from(25)).ok()?;
    Some(Sourced::new(Density::new(Decimal::new(1_576, 3), at).ok()?, SYRUP.clone()))
}

/// Drops in a millilitre where neither the material nor the clinic's dropper tells them: known of water, and a habit of the trade with
/// essential oils, whose droppers give 20 to 40, so that the mass is not too little. `None` for anything else, since
/// spirit and oil drop otherwise.
fn usual_drops(kind: galenics::MaterialKind) -> Option<Sourced<Decimal>> {
    static WATER: galenics::Source = galenics::Source::fixed(
        "USP <1101>: a drop of water from the official dropper weighs 45 to 55 mg, 20 in a mL",
        galenics::Status::Verified,
    );
    static ESSENTIAL: galenics::Source = galenics::Source::fixed(
        "20 drops of essential oil counted as 1 mL; droppers differ",
        galenics::Status::CommonPractice,
    );
    let source = match kind {
        galenics::MaterialKind::Water | galenics::MaterialKind::WateryBase => &WATER,
        galenics::MaterialKind::EssentialOil => &ESSENTIAL,
        _ => return None,
    };
    Some(Sourced::new(Decimal::from(20), source.clone()))
}

fn percent(material: &Material, measured: Option<&materia::Measured>) -> Result<Option<Sourced<Fraction>>> {
    measured
        .map(|measured| {
            let value = Fraction::percent(measured.value).map_err(|error| impossible(material, &error))?;
            Ok(Sourced::new(value, source(&measured.source.text, measured.status)))
        })
        .transpose()
}

/// A source of the calculations with this citation and status.
#[must_use]
pub fn source(text: &str, status: materia::Status) -> galenics::Source {
    let status = match status {
        materia::Status::Verified => galenics::Status::Verified,
        materia::Status::Secondary => galenics::Status::Secondary,
        materia::Status::FromMemory => galenics::Status::FromMemory,
        materia::Status::CommonPractice => galenics::Status::CommonPractice,
    };
    galenics::Source::new(text.to_owned(), status)
}

fn impossible(material: &Material, error: &dyn std::fmt::Display) -> Error {
    Error::internal(format!("the facts of {} cannot be calculated with: {error}", material.key))
}

/// What a material is for the calculations.
pub(crate) fn kind(material: &Material) -> galenics::MaterialKind {
    use galenics::MaterialKind as To;
    use materia::MaterialKind as From;
    match material.kind {
        // Honey comes from an animal, and in a preparation it is a solution of sugar.
        From::AnimalProduct if material.key == "honey" => To::Sugar,
        From::Herb => To::Herb,
        From::FixedOil => To::FixedOil,
        From::Butter => To::Butter,
        From::Wax => To::Wax,
        From::Hydrocarbon => To::Hydrocarbon,
        From::Emulsifier => To::Emulsifier,
        From::EssentialOil | From::AromaticSubstance => To::EssentialOil,
        From::Solvent if material.ethanol.is_some() => To::Ethanol,
        From::Solvent => To::Solvent,
        From::WateryBase => To::WateryBase,
        From::Humectant => To::Humectant,
        From::Preservative => To::Preservative,
        From::Antioxidant => To::Antioxidant,
        From::Salt => To::Salt,
        From::Thickener => To::Gum,
        From::Mineral => To::Powder,
        From::Sweetener => To::Sugar,
        From::AnimalProduct => To::AnimalProduct,
        From::Resin => To::Resin,
    }
}
