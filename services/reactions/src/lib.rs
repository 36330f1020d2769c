//! Suspected adverse reactions to what the clinic made.
//!
//! A report is about a jar and opens a case; cases are worked on, joined, and closed with a conclusion. Several cases are held
//! beside each other by what their jars have in common. May use `bench`, `locks`, `policy`, `store`. Never here: to whom it
//! happened, who told it on the page of a jar or from which address, or an amount of a recipe.

mod ending;
pub mod kept;
mod read;
mod shared;
mod telling;
mod visible;
mod work;

pub use ending::{conclude, join};
pub use read::{case, cases, may_read_events};
pub use telling::{acceptable, purge, receipt, tell_at_clinic, tell_on_page};
pub use work::{erase, note};
