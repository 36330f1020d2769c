//! The journal on a real database, with tables of the test's own: what the owner of a database does to rows and events
//! is found, whatever it is.
//!
//! Needs `TEST_DATABASE_URL`, a login that may make databases and roles: `./tests/run -- cargo test -p store`.
#![expect(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    reason = "in a test, what is unexpected is a failure"
)]

mod damage;
mod database;
mod numbering;
mod older;
mod races;
mod shelf;
mod statements;
