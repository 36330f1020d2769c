//! What every subject stands on: transactions, the proof of the caller, the clock, ids, errors, pages, idempotency and
//! the journal.
//!
//! May use: `wire`, `judgement` (for its errors, and to stop its calculations), `materia` and `schema`. What never happens here: a rule of any one
//! subject, or a table that belongs to one. The journal knows no table above it: whoever owns rows hands in how they
//! are verified.

pub mod actor;
mod calculations;
mod calling;
pub mod clock;
mod connection;
pub mod error;
pub mod gather;
pub mod idempotency;
pub mod journal;
pub mod known_as;
pub mod login;
pub mod names;
pub mod order;
pub mod page;
mod pipeline;
mod pool;
pub mod prepared;
pub mod proof;
pub mod purge;
mod ready;
mod retry;
pub mod sql;
mod sqlstate;
mod store;
pub mod tx;
mod versioned;
pub mod words;

pub use actor::{Actor, Administrator, Credentials, Instructor, PersonActor, Staff};
pub use calculations::Calculations;
pub use clock::{Clock, Rng};
pub use connection::connect;
pub use error::{Error, Result, violates};
pub use idempotency::IdempotencyKey;
pub use journal::NewEvent;
pub use login::login_defaults;
pub use pipeline::in_order;
pub use pool::{Connections, PoolSettings};
pub use prepared::Prepare;
pub use proof::Hold;
pub use ready::Ready;
pub use store::Store;
pub use tx::Tx;
pub use versioned::Versioned;
pub use words::word;
