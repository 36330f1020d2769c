//! Materials: the materia medica as the clinic keeps it.
//!
//! For: loading the reference data, finding a material by any of its names, and handing its facts to the
//! calculations. Facts are versioned and never changed; a formula names the version it was written with. What
//! never happens here: amounts, or a fact without its source.

mod facts;
mod load;
mod lookup;

pub(crate) use facts::{calculable, facts_of, source};
pub use load::load;
pub(crate) use lookup::resolve;
pub use lookup::{material, materials};
