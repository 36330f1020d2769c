//! Batch records: entries, findings, submission and review.
//!
//! A record proves what went into each jar. May use `recipes`, `formulary`, `release`, `stock`, `judgement`, `policy`,
//! `store`.
//! Never here: a gated table, a changed or deleted entry (a correction is a further entry), a record read without the
//! proof of `release::record`, or a review by the maker while the policy demands a second person.

mod aids;
mod batches;
mod draws;
mod entries;
mod findings;
pub mod kept;
mod label;
mod lots;
mod measured;
mod measures;
mod records;
mod review;
mod stored;
mod submit;

pub use aids::at_bench;
pub use batches::{BatchQuery, abandon, address, batch, batch_create, batch_rendered, batches, last_asked};
pub use entries::entry_create;
pub use label::label;
pub use lots::lots;
pub use review::review;
pub use submit::submit;
