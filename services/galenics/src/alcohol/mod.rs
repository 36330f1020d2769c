//! Ethanol and water: density, strength by volume and by mass, mixing with contraction, dilution, and the
//! hydrometer.
//!
//! Everything rests on one formula, the density of ethanol-water mixtures of OIML R 22 (International
//! Alcoholometric Tables, 1975; Council Directive 76/766/EEC, annex), valid from -20 to 40 °C over all
//! strengths. Masses add up; volumes do not, since the mixture contracts, so that every mixing here goes
//! through masses.
//!
//! Strength by volume depends on the temperature at which it is stated: Europe and the pharmacopoeia take
//! 20 °C, older American tables 15.56 °C (60 °F). Where no temperature is named, 20 °C is meant.
//!
//! The inner functions work in floats, since the formula is a fit of finite accuracy; the calculators take
//! and give decimals.

mod density;
mod dilution;
mod hydrometer;
mod mixing;
mod strength;

pub use density::{COLDEST, HOTTEST, density};
pub use dilution::{Dilution, DilutionBasis, dilute, dilute_with};
pub use hydrometer::{HydrometerReading, from_density, read_hydrometer};
pub(crate) use mixing::volume_together;
pub use mixing::{Mixture, Stream, mix};
pub use strength::{StrengthAt, by_mass, by_volume, mass_from_density, strength_by_mass, strength_by_volume};
pub(crate) use strength::{float, pure_ethanol};
