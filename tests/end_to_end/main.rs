//! End-to-end tests: real HTTP, real Postgres, a service started as in production.
#![expect(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    reason = "in a test, what is unexpected is a failure"
)]

mod amendments;
mod authority;
mod bad_input;
mod calculations;
mod canary;
mod demo;
mod drafts;
mod faults;
mod formulas;
mod house;
mod judged;
mod labels;
mod limits;
mod made;
mod official;
mod protocol;
mod races;
mod repeats;
mod sessions;
mod story;
mod tokens;
mod trade;
