//! What a composition means: limits, allergens, emulsion, preservation, dating, and the cautions that they raise.
//!
//! For: handing the reference data's limits and properties to the calculations, for a formula as written and for a
//! batch as made alike, and saying what comes out. Pure: the same input gives the same answer. May use: `galenics`,
//! `materia`, and the types of `wire`. What never happens here: a query, a clock, chance, a limit without its source, or
//! a share that is not known counted as nothing.

pub mod answers;
pub mod assembled;
pub mod assessment;
pub mod audience;
pub mod cautions;
pub mod clinic_cautions;
pub mod currency;
mod daily;
pub mod dating;
mod emulsion;
mod error;
pub mod evaluation;
pub mod facts;
pub mod figures;
pub mod kinds;
pub mod limits;
pub mod lot;
pub mod meant;
pub mod measured;
mod observed;
pub mod parts;
pub mod place;
mod preserved;
pub mod rule_sets;
pub mod stability;
mod temperature;
#[cfg(test)]
mod tests;
pub mod written;

pub use assembled::Assembled;
pub use assessment::{Assessment, judge};
pub use clinic_cautions::ClinicCautions;
pub use daily::mass as used_daily;
pub use emulsion::profile as emulsion_profile;
pub use error::{Error, Result};
pub use limits::LimitAssessment;
pub use observed::Observed;
pub use temperature::StepTemperature;
pub use written::{Ingredient, Written};
