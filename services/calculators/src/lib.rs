//! The calculators: what the bench asks without any formula.
//!
//! For: reading a question into the types of the calculations, looking up in the reference data what it names, and
//! answering figures that explain themselves. Anybody who is signed in and every API client may ask. May use: the
//! calculations, the reference data, the policy's customary measures. What never happens here: a calculation of our
//! own, a formula of a library, anything written.

mod alcohol;
mod composition;
mod cost;
mod dose;
mod emulsion;
mod extraction;
mod form;
mod known;
mod quantity;
mod skin_limits;
mod stability;
mod strength;
mod use_by;
mod weighing;

use wire::calculations::Calculated;

use judgement::figures::figure;

pub use alcohol::alcohol;
pub use cost::cost;
pub use dose::dose;
pub use emulsion::emulsion;
pub use extraction::extraction;
pub use quantity::quantity;
pub use skin_limits::skin_limits;
pub use strength::strength;
pub use use_by::use_by;
pub use weighing::weighing;

/// Figures under the names by which a reader looks for them.
fn calculated(figures: &[(&str, &galenics::Figure)]) -> Calculated {
    Calculated { figures: figures.iter().map(|(name, of)| figure(*name, of)).collect(), notes: Vec::new() }
}

/// As [`calculated`], with how household measures were taken.
fn calculated_from(figures: &[(&str, &galenics::Figure)], typed: &[&galenics::Quantity]) -> Calculated {
    let notes = typed.iter().filter_map(|quantity| quantity.taken_as()).collect();
    Calculated { notes, ..calculated(figures) }
}
