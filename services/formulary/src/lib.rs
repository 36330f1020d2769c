//! The formulary: libraries and their members, formulas and their revisions.
//!
//! For: who shares which formulas, and the way of a revision from draft to approved and beyond. What never happens
//! here: reading or writing amounts or method. Those are in the safety module's own tables; here are titles, names
//! and states, which members may see before they have acknowledged anything.

mod decide;
mod formulas;
mod libraries;
mod resolve;
mod revisions;
mod written;

pub use decide::{decide, propose, withdraw};
pub use formulas::{FormulaQuery, formula, formula_create, formulas, revision_create};
pub(crate) use formulas::{formula_seen, preparation_name};
pub(crate) use libraries::{hold_membership, membership};
pub use libraries::{libraries, library, library_change, library_create, member_add, member_remove, members};
pub(crate) use resolve::resolve;
pub use revisions::revision;
pub(crate) use revisions::{Facts, facts, hold, show as shown, visible};
pub(crate) use written::{Ingredient, Written};
