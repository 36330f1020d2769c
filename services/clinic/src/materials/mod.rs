//! Materials: the materia medica as the clinic keeps it.
//!
//! For: loading the reference data, finding a material by any of its names, keeping what amendments make of it, and
//! handing its facts to the calculations. Facts are versioned and never changed; a formula names the version it was written with. What
//! never happens here: amounts, or a fact without its source.

mod facts;
mod load;
mod lookup;
mod search;
mod store;
mod table;

pub(crate) use facts::{calculable, facts_now, facts_of, source};
pub use load::load;
pub(crate) use lookup::resolve;
pub use lookup::{entry, material, materials};
pub(crate) use search::nowhere;
pub(crate) use store::{Said, Standing, add, is_of_reference, is_taken, merge, revise, standing, synonyms};
pub use table::export;
pub(crate) use table::read as read_table;
