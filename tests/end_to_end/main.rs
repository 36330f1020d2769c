//! End-to-end tests: real HTTP, real Postgres, a service started as in production.
#![expect(clippy::unwrap_used, reason = "in a test, what is unexpected is a failure")]

mod formulas;
mod story;
