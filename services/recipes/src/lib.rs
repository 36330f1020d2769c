//! Recipes: released revisions worked out for a quantity, batches as they were made, and the facts of labels.
//!
//! May use: `formulary`, `release`, `judgement`, `policy`, `store`. What never happens here: a gated table, or content
//! of a revision without the proof that opens it.

mod application;
mod as_made;
mod cache;
mod evaluation;
pub mod label;
mod made_for;
mod read;
mod reader;
mod work;

pub use as_made::as_made;
pub use cache::RecipeCache;
pub use evaluation::evaluation;
pub use read::{comments, recipe};
pub use reader::Reader;
pub use work::work_out;
