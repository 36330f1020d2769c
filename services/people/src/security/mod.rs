//! Security events: who tried and was refused, apart from the journal.
//!
//! Refusals are gathered in the process and written several times a minute, many of one kind as one row, so that an
//! attack cannot make the service write more than a bounded number of rows, and a refused request costs no statement. A
//! process that is killed loses what it had gathered since it last wrote. Never here: a name, an address, a password or a
//! code in clear.

mod gathered;
mod stored;

pub use gathered::{Attempt, Security, Who};
pub use stored::{flush, purge, security_events};
