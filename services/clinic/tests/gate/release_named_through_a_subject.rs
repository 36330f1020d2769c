//! The gate's crate, named through one of the clinic's subjects.

use clinic::recipes::release::ForRules;

fn main() {}
