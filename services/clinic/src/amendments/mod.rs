//! Amendments: changes of what everybody relies on, and what they mean for formulas.
//!
//! For: adding, revising, merging and importing materials, and the clinic's own word on cautions. What makes something
//! less cautious, or touches the safety of a material, waits for a second person; what comes into force renews, in the
//! same transaction, the caution set of every revision that it reaches, by the indexes of who contains what. What never
//! happens here: changing a frozen revision, or a caution that disappears from where it was.

mod apply;
mod decide;
pub(crate) mod kept;
mod make;
mod reach;
mod show;

pub(crate) use apply::{calculations, reference_data, with_aliases};
pub use decide::{decide, reinstate};
pub use make::make;
pub(crate) use reach::Reach;
pub use show::{affected, amendment, amendments};
