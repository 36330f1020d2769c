//! Calculators for questions that need no formula of a library.
//!
//! Parses a question, looks up the materials it names and returns figures with their explanation. Every signed-in user
//! and every API client may ask. May use `galenics`, `judgement`, `materials`, and the customary measures of `policy`.
//! Never here: a calculation of its own, a formula of a library, or a write to the database.

mod alcohol;
mod answer;
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
