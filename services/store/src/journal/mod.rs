//! The journal: every change is an event, written at the end of the transaction of the change.
//!
//! For: audit and, later, the changes feed and notices, which all read this one table. An event carries ids and
//! digests, never content. Each subject's events form a chain by hash, through a head row. An event also names the
//! digests of the rows that it vouches for (see [`Kept`]), so that a changed row shows. What never happens here:
//! changing or deleting an event (the service's database role cannot), writing one outside the transaction that it
//! describes, or knowing a table of any subject: whoever owns rows says which of them are vouched for.

mod chain;
mod event;
mod kept;
mod row;
mod verify;
mod write;

pub use event::NewEvent;
pub use kept::{Belonging, Column, Kept, Key};
pub use row::EventRow;
pub use verify::{Verdict, verify};
pub(crate) use write::write;
