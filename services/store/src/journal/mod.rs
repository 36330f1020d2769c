//! The journal: every change is an event, written at the end of the transaction of the change.
//!
//! For: audit and, later, the changes feed and notices, which all read this one table. An event carries ids and
//! digests, never content. Each subject's events form a chain by hash, through a head row. An event also names the
//! digests of the rows that it vouches for (see [`Kept`]), so that a changed row shows: [`verify`] recomputes all of it.
//! A relay gives events their public order after commit, and a signed [`Statement`] over the events in that order can be
//! kept outside. `JOURNAL.md` beside this crate says what is hashed, byte for byte. What never happens here: changing or
//! deleting an event (the service's database role cannot), writing one outside the transaction that it describes, or
//! knowing a table of any subject: whoever owns rows says which of them are vouched for.

mod breaks;
mod chain;
mod digests;
mod event;
mod heads;
mod kept;
mod merkle;
mod older;
mod order;
mod put;
mod row;
mod statement;
mod stored;
mod stream;
mod verify;
mod vouched;
mod write;

pub use breaks::Breaks;
pub use event::NewEvent;
pub use heads::Overtaken;
pub use kept::{Belonging, Column, Kept, KeptError, Key, consistent};
pub use merkle::Tree;
pub use older::{JOURNAL, JOURNAL_ID, VouchedFor, vouch_for_older};
pub use order::number_events;
pub use row::EventRow;
pub use statement::{Statement, StatementFault, StatementVerdict, state, verify_statement};
pub use verify::{Check, Checking, Older, Verdict, verify};
pub use vouched::{Place, Reason, RowFault, prove_row};
pub(crate) use write::write;
