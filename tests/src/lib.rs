//! The harness of the end-to-end tests: a real service on a real Postgres for every test.
//!
//! `TEST_DATABASE_URL` names a login that may make databases; `./tests/run` makes a throw-away server with one. One
//! template database is migrated once; every test works on its own copy, with its own clock and its own service on a
//! free port, started the same way as in production.
#![expect(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    reason = "in a test, what is unexpected is a failure"
)]

pub mod caller;
pub mod clinic;
pub mod database;
pub mod figures;
pub mod log;
pub mod paper;
pub mod pictures;
pub mod tally;

pub use caller::{Answer, Caller};
pub use clinic::{TeachingClinic, TestClinic};
