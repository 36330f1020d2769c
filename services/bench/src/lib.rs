//! The bench: batch records, what is written into them, what is found in them, and their review.
//!
//! For: knowing afterwards exactly what went into each jar, and judging it fairly. What never happens here: changing or
//! removing an entry (a correction is a further entry), letting a record out other than through the door of record, or
//! letting anybody accept their own.

mod batches;
mod entries;
mod findings;
mod label;
mod review;
mod store;
mod submit;
mod temperature;

pub(crate) use batches::MayRead;
pub use batches::{BatchQuery, abandon, address, batch, batch_create, batches};
pub use entries::entry_create;
pub use label::label;
pub use review::review;
pub use submit::submit;
pub(crate) use temperature::StepTemperature;
