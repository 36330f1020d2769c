//! Assessment of a composition: limits, allergens, emulsion, preservation, dating, and the cautions they raise.
//!
//! Passes the limits and properties of the reference data to the calculations and interprets their results. One code
//! path serves a formula as written and a batch as made. Pure: equal inputs give equal results. May use `galenics`,
//! `materia` and the types of `wire`. Never here: a query, a clock, randomness, a limit without its source, or an
//! unknown share counted as zero.

pub mod allergens;
pub mod answers;
pub mod assembled;
pub mod assessment;
pub mod audience;
pub mod cautions;
pub mod clinic_cautions;
pub mod composition;
mod coverage;
pub mod currency;
mod daily;
pub mod dating;
mod dropper;
mod emulsion;
mod error;
pub mod evaluation;
pub mod facts;
pub mod figures;
pub mod format;
pub mod kinds;
pub mod limits;
pub mod lot;
pub mod meant;
pub mod measured;
pub mod nested;
mod observed;
pub mod observing;
pub mod parts;
pub mod place;
mod preserved;
pub mod rule_sets;
pub mod serving;
pub mod stability;
mod temperature;
#[cfg(test)]
mod tests;
pub mod thresholds;
pub mod written;

pub use assembled::Assembled;
pub use assessment::{Assessment, judge};
pub use clinic_cautions::ClinicCautions;
pub use emulsion::profile as emulsion_profile;
pub use error::{Error, Result};
/// Stopping a calculation from outside.
pub use galenics::interrupt;
pub use limits::LimitAssessment;
pub use meant::amount_used;
pub use nested::NestedRevisions;
pub use observed::{Observed, Reading, combining};
pub use temperature::StepTemperature;
pub use written::{Ingredient, Written};
