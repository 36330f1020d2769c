//! The gate: amounts and method leave the clinic only from here, inside a [`Released`].
//!
//! For: cautions and their acknowledgement, and the recipe behind them. There are three doors. **To make**: an
//! approved revision whose caution set was acknowledged. **To decide**: any frozen state, for instructors, also
//! acknowledged. **Of record**: what a batch asked for, for its maker and those who review it. Only the first permits
//! making. No role skips them.
//!
//! What never happens elsewhere: reading or writing the tables in `gated`. What never happens here: handing content
//! out bare, or to somebody whose door was not looked up in the same transaction.

mod acknowledge;
mod application;
mod as_made;
mod assemble;
mod audience;
mod cautions;
mod countersign;
mod draft;
pub(crate) mod evaluation;
mod freeze;
mod frozen;
mod gate;
pub(crate) mod judged;
mod label;
mod made_for;
mod own;
mod quick;
mod recipe;
mod record;
mod released;
mod renew;
mod set;
mod store;
#[cfg(test)]
mod tests;

pub use acknowledge::{acknowledge, acknowledgement, acknowledgements};
pub(crate) use as_made::as_made;
pub(crate) use assemble::check as check_draft;
pub use audience::suitability;
pub use countersign::{awaited, countersign};
pub(crate) use draft::draft_insert;
pub use draft::{draft, draft_change, draft_evaluation, evaluate};
pub use evaluation::evaluation;
pub(crate) use freeze::{freeze, may_be_approved};
pub(crate) use frozen::Frozen;
pub(crate) use gate::{
    Door, close_decisions, close_library, close_revision, decided_to_make, open, outstanding,
};
pub(crate) use judged::used_daily;
pub use label::label;
pub(crate) use label::{LabelledBatch, label_of_batch};
pub(crate) use own::own as own_cautions;
pub use quick::recipe;
pub(crate) use quick::{Ask, Found, doors};
pub use recipe::comments;
pub(crate) use recipe::{comment, work_out_for};
pub(crate) use record::{change_outstanding, keep as keep_recipe, recipe_of, release as release_record};
pub use released::{Released, ReleasedRecipe};
pub(crate) use renew::{reinstate, renew, settle, withheld_since};
pub use set::cautions;
pub(crate) use set::current as current_set;
pub(crate) use store::written;
