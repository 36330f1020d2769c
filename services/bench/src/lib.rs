//! The bench: batch records, what is written into them, what is found in them, and their review.
//!
//! For: knowing afterwards exactly what went into each jar, and judging it fairly. May use: `recipes`, `formulary`,
//! `release`, `judgement`, `policy`, `store`. What never happens here: a gated table, changing or removing an entry (a
//! correction is a further entry), a record read without the proof of `release::record`, or anybody who accepts their
//! own.

mod batches;
mod entries;
mod findings;
pub mod kept;
mod label;
mod records;
mod review;
mod stored;
mod submit;

pub use batches::{BatchQuery, abandon, address, batch, batch_create, batches};
pub use entries::entry_create;
pub use label::label;
pub use review::review;
pub use submit::submit;
