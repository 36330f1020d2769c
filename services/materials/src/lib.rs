//! The materia medica in the database: materials, the versions of their facts, and their names.
//!
//! Finds a material by any of its names, stores what the reference data and amendments add, and supplies facts to the
//! calculations. Versions are append-only; a formula names the version it was saved with. May use `store`, `materia`,
//! `canonical`, `schema`, `wire`. Never here: an amount of a formula, or a fact without its source.

pub mod entry;
mod facts;
pub mod kept;
mod lookup;
mod search;
mod summary;
mod table;
mod verify;
mod versions;

pub use facts::{facts_now, facts_of};
pub use lookup::resolve;
pub use lookup::{entry, material, materials};
pub use search::{Unnamed, called, contains, nowhere};
pub use table::export;
pub use table::read as read_table;
pub use verify::FACTS;
pub use versions::{
    Said, Standing, add, digest, is_of_reference, is_taken, merge, no_synonyms, revise, standing, synonyms,
};
