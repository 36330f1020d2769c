//! Reads that go together: what is asked while a statement is on its way goes in the next one, for all who asked.
//!
//! Alone, a caller waits for nothing; in a crowd a statement and its round trip, most of what a small read costs, are
//! shared. Every caller is proved by that same statement, after they asked. What never happens here: an answer from
//! memory, or one to a caller whose session or key was not found.

mod question;
mod queue;

pub use question::{
    Ask, COLUMNS, Caller, Callers, Gather, Known, OneById, Sql, answers, by_id, shared_answers, statement,
};
pub use queue::{Line, Queue};
