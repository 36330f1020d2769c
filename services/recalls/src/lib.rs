//! From a lot to everything that was made of it, and back; and calling it all back.
//!
//! A lot is weighed into batches by the ledger of `stock`, and a batch goes on the shelf as a lot: these two steps, at any
//! depth, are the trace. A recall takes whatever its trace reaches out of use in one transaction, and stays open until each
//! lot and batch is accounted for. May use `stock`, `bench`, `locks`, `store`. Never here: an amount of a recipe, or a person
//! to whom something was given.

mod accounts;
mod jar_outcomes;
mod jars;
pub mod kept;
mod read;
mod start;
mod trace;
mod walk;

pub use accounts::{account, close};
pub use jar_outcomes::account_jars;
pub use read::{may_read_events, recall, recalls};
pub use start::{reach, start};
pub use trace::{batch_trace, lot_trace};
