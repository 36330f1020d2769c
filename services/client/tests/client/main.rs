//! The client and the command against a small server of the tests' own, which answers what a test tells it to and
//! keeps what it was asked.
#![expect(
    clippy::unwrap_used,
    reason = "a test that cannot be set up fails; helpers are outside the reach of allow-unwrap-in-tests"
)]

mod answers;
mod calls;
mod command;
mod limits;
mod server;
