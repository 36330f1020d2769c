//! The journal: every change is an event, written in the transaction of the change.
//!
//! For: audit and, later, the changes feed and notices, which all read this one table. An event carries ids and
//! digests, never content; each subject's events form a chain by hash, through a head row. What never happens
//! here: changing or deleting an event (the service's database role cannot), or writing one outside the
//! transaction that it describes.

mod chain;
mod read;
mod verify;

pub(crate) use chain::{NewEvent, record};
pub use read::events;
pub use verify::{Verdict, verify};
