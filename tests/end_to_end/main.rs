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
mod contended;
mod cost;
mod custody;
mod demo;
mod drafts;
mod entry;
mod examples;
mod faults;
mod formulas;
mod from_memory;
mod house;
mod jars;
mod judged;
mod labels;
mod large;
mod leaks;
mod limits;
mod made;
mod migrating;
mod named;
mod notation;
mod numbers;
mod official;
mod own_login;
mod pages;
mod photographs;
mod poisons;
mod pooler;
mod printed;
mod protocol;
mod races;
mod reactions;
mod readme;
mod record;
mod repeats;
mod search;
mod sessions;
mod stock;
mod story;
mod suits;
mod teaching;
mod tokens;
mod trade;
mod two_days;
mod whom_the_demo_suits;
