//! Recipes scaled to a quantity, batches as made, and labels.
//!
//! Reads frozen revisions through `release`, scales and assesses them, and caches what was rendered. May use
//! `formulary`, `release`, `judgement`, `policy`, `store`. Never here: a gated table, or content of a revision without
//! the proof that releases it.

mod application;
mod as_made;
mod by_loss;
mod cache;
mod evaluation;
mod face;
mod for_batch;
pub mod label;
pub mod leaves;
mod made_for;
mod read;
pub mod stored;
mod work;

pub use as_made::{Making, Marc, as_made, marc};
pub use cache::RecipeCache;
pub use evaluation::evaluation;
pub use for_batch::work_out;
pub use read::{comments, recipe};
