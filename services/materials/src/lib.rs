//! Materials: the materia medica as the clinic keeps it.
//!
//! For: loading the reference data, finding a material by any of its names, keeping what amendments make of it, and
//! handing its facts to the calculations. Facts are versioned and never changed; a formula names the version it was written with. What
//! never happens here: amounts, or a fact without its source.

pub mod entry;
mod facts;
pub mod kept;
mod lookup;
mod search;

mod table;
mod verify;
mod versions;

pub use facts::{facts_now, facts_of};
pub use lookup::resolve;
pub use lookup::{entry, material, materials};
pub use search::nowhere;
pub use table::export;
pub use table::read as read_table;
pub use verify::FACTS;
pub use versions::{
    Said, Standing, add, digest, is_of_reference, is_taken, merge, no_synonyms, revise, standing, synonyms,
};
