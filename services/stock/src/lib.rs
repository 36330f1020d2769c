//! Lots of materials and of what the clinic made: what was received, whether it is what it should be, and a ledger of what moved.
//!
//! The balance of a lot changes with a movement only, by a trigger of the database; nobody writes it. May use `materials`,
//! `judgement`, `policy`, `locks`, `store`. Never here: a gated table. What an entry of a batch weighed is an amount of its
//! recipe: it stands in the entry alone, a movement names the entry, and the database adds up.

mod amounts;
mod counts;
mod decisions;
mod draws;
mod keeping;
pub mod kept;
mod ledger;
mod levels;
mod listing;
mod lots;
mod made;
mod made_by;
mod recalled;
mod receiving;
mod reservations;
mod states;
mod thresholds;
mod usable;

pub use counts::count;
pub use decisions::{discard, identity_check, quarantine};
pub use draws::{Draw, Drawn, Taken, drawn_by, put, take};
pub use ledger::movements;
pub use levels::stocks;
pub use listing::lots;
pub use lots::{lot, may_read_events, seen};
pub use made::{Made, keep_no_later, shelve, shelved};
pub use recalled::recall;
pub use receiving::receive;
pub use reservations::{Reserving, Wanted, free_lots, purge, reserve, reserved};
pub use thresholds::{threshold, threshold_change};
pub use usable::{For, Usable, for_lines};
