//! What the calculations must come to: published figures, each with its source in `tests/reference`, and the
//! properties that hold for every input.
#![expect(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    reason = "a check that cannot read its rows must stop"
)]

mod alcohol;
mod bad_input;
mod contraction;
mod decoctions;
mod emulsion;
mod extraction;
mod formulas;
mod golden;
mod hostile;
mod household;
mod kept;
mod large;
mod limits;
mod made;
mod notation;
mod properties;
mod questions;
mod random;
mod scaling;
mod sentences;
mod support;
mod syrup;
mod units;
mod use_by;
mod words;
mod worked;
