//! Mixing any number of ethanol-water streams, with dissolved or inert matter. Masses add up; the volume of
//! the ethanol and water together comes from its density, and what is missing against the volumes put
//! together is the contraction.

use serde::Serialize;

use super::{
    density::{OIML_R22, density_and_slope},
    strength::{by_mass, by_volume, float},
};
use crate::{Figure, Fraction, Input, Mass, Refusal, Rule, Source, Status, Volume, number::to_f64, units};

static SUM: Rule = Rule::definition("mixture_mass", "total mass: {=}");
static ETHANOL: Rule = Rule::definition("mixture_ethanol", "ethanol in the mixture: {=}");
static WATER: Rule = Rule::definition("mixture_water", "water in the mixture: {=}");
static BY_MASS: Rule =
    Rule::definition("mixture_by_mass", "{ethanol} of ethanol in {whole} of ethanol and water: {=}");
static BY_VOLUME: Rule = Rule::new(
    "mixture_by_volume",
    "{strength} by mass: {=} at 20 °C",
    Source::fixed("OIML R 22: q = p rho(p,t) / rho(1,t)", Status::Verified),
);
static VOLUME: Rule = Rule::new(
    "mixture_volume",
    "volume of {mass} of ethanol and water at {density}: {=} at 20 °C, with the inert volume added",
    Source::fixed("OIML R 22, density formula", Status::Verified),
);
static CONTRACTION: Rule =
    Rule::definition("contraction", "{apart} unmixed make {together} mixed; contraction: {=}");

/// One stream that goes into a mixture.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stream {
    /// So much by volume at 20 °C of a strength by volume at 20 °C.
    ByVolume {
        /// How much.
        volume: Volume,
        /// How strong.
        strength: Fraction,
    },
    /// So much by mass of a strength by volume at 20 °C.
    ByMass {
        /// How much.
        mass: Mass,
        /// How strong.
        strength: Fraction,
    },
    /// Matter that is neither ethanol nor water, with the volume it takes where that is known.
    Inert {
        /// How much.
        mass: Mass,
        /// What volume it takes.
        volume: Option<Volume>,
    },
}

/// A mixture.
#[derive(Debug, Clone, Serialize)]
pub struct Mixture {
    /// All together, in g.
    pub mass: Figure,
    /// Ethanol, in g.
    pub ethanol: Figure,
    /// Water, in g.
    pub water: Figure,
    /// Ethanol in the ethanol and water, by mass.
    pub by_mass: Figure,
    /// Ethanol in the ethanol and water, by volume at 20 °C.
    pub by_volume: Figure,
    /// All together at 20 °C, in mL.
    pub volume: Figure,
    /// What the volumes lose by being put together, in mL; below zero where they gain.
    pub contraction: Figure,
}

/// Ethanol and water of a stream in g, and its volume in mL.
struct Parts {
    ethanol: f64,
    water: f64,
    volume: f64,
}

impl Stream {
    fn parts(self) -> Result<Option<Parts>, Refusal> {
        let (strength, mass_of) = match self {
            Self::ByVolume { strength, .. } | Self::ByMass { strength, .. } => {
                let p = by_mass(to_f64(strength.get()), 20.0)?;
                (p, density_and_slope(p, 20.0).0 / 1000.0)
            }
            Self::Inert { .. } => return Ok(None),
        };
        let (mass, volume) = match self {
            Self::ByVolume { volume, .. } => (to_f64(volume.ml()) * mass_of, to_f64(volume.ml())),
            Self::ByMass { mass, .. } => (to_f64(mass.g()), to_f64(mass.g()) / mass_of),
            Self::Inert { .. } => (0.0, 0.0),
        };
        Ok(Some(Parts { ethanol: mass * strength, water: mass * (1.0 - strength), volume }))
    }
}

/// The volume in mL at 20 °C that so many g of ethanol and water fill together.
pub(crate) fn volume_together(ethanol: f64, water: f64) -> f64 {
    let liquid = ethanol + water;
    if liquid <= 0.0 {
        return 0.0;
    }
    let p = (ethanol / liquid).clamp(0.0, 1.0);
    liquid * 1000.0 / density_and_slope(p, 20.0).0
}

/// Mixes streams at 20 °C.
///
/// # Errors
/// Refuses no streams, and streams without ethanol and water, since then there is nothing to work out.
pub fn mix(streams: &[Stream]) -> Result<Mixture, Refusal> {
    let (mut ethanol, mut water, mut apart, mut inert) = (0.0, 0.0, 0.0, 0.0);
    let mut inert_volume = Some(0.0);
    for stream in streams {
        match (stream.parts()?, stream) {
            (Some(parts), _) => {
                ethanol += parts.ethanol;
                water += parts.water;
                apart += parts.volume;
            }
            (None, Stream::Inert { mass, volume }) => {
                inert += to_f64(mass.g());
                inert_volume = inert_volume.zip(*volume).map(|(sum, volume)| sum + to_f64(volume.ml()));
            }
            (None, _) => {}
        }
    }
    let liquid = ethanol + water;
    if liquid <= 0.0 {
        return Err(Refusal::out_of_range(
            "streams",
            "Enter at least one stream of ethanol or water above 0.",
        ));
    }
    let p = (ethanol / liquid).clamp(0.0, 1.0);
    let q = by_volume(p, 20.0)?;
    let rho = density_and_slope(p, 20.0).0 / 1000.0;
    let together = volume_together(ethanol, water);
    let mass = float(liquid + inert, units::GRAM, &SUM, Vec::new());
    let ethanol_figure = float(ethanol, units::GRAM, &ETHANOL, Vec::new());
    let water_figure = float(water, units::GRAM, &WATER, Vec::new());
    let liquid_input =
        |name: &'static str| Input::figure(name, &float(liquid, units::GRAM, &SUM, Vec::new()));
    let by_mass_figure = float(
        p,
        units::SHARE_OF_MASS,
        &BY_MASS,
        vec![Input::figure("ethanol", &ethanol_figure), liquid_input("whole")],
    );
    let by_volume_figure =
        float(q, units::SHARE_OF_VOLUME, &BY_VOLUME, vec![Input::figure("strength", &by_mass_figure)]);
    let density = crate::number::from_f64(rho).unwrap_or_default();
    let inputs =
        vec![liquid_input("mass"), Input::constant("density", density, units::GRAM_PER_ML, OIML_R22.clone())];
    let volume = match inert_volume {
        Some(inert) => float(together + inert, units::MILLILITRE, &VOLUME, inputs),
        None => Figure::unknown_for(
            crate::Unknown::of("volume of the inert matter"),
            units::MILLILITRE,
            &VOLUME,
            inputs,
        ),
    };
    let inputs = vec![
        Input::number("apart", crate::number::from_f64(apart).unwrap_or_default(), units::MILLILITRE),
        Input::number("together", crate::number::from_f64(together).unwrap_or_default(), units::MILLILITRE),
    ];
    let contraction = float(apart - together, units::MILLILITRE, &CONTRACTION, inputs);
    Ok(Mixture {
        mass,
        ethanol: ethanol_figure,
        water: water_figure,
        by_mass: by_mass_figure,
        by_volume: by_volume_figure,
        volume,
        contraction,
    })
}
