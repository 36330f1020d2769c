//! What every subject stands on: transactions, the proof of the caller, the clock, ids, errors, pages, idempotency and
//! the journal.
//!
//! May use: `wire`, `judgement` (for its errors), `materia` and `schema`. What never happens here: a rule of any one
//! subject, or a table that belongs to one. The journal knows no table above it: whoever owns rows hands in how they
//! are verified.

pub mod actor;
pub mod clock;
pub mod error;
pub mod idempotency;
pub mod journal;
pub mod page;
mod pool;
pub mod proof;
pub mod sql;
mod store;
pub mod tx;
mod versioned;
pub mod words;

pub use actor::{Actor, Administrator, Credentials, Instructor, PersonActor, Staff};
pub use clock::{Clock, Rng};
pub use error::{Error, Result, violates};
pub use idempotency::IdempotencyKey;
pub use journal::NewEvent;
pub use pool::{Connections, Pool, PoolSettings, connect};
pub use store::Store;
pub use tx::Tx;
pub use versioned::Versioned;
pub use words::word;
