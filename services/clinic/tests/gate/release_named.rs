//! The gate's crate, named through the clinic.

use clinic::release::ForRules;

fn main() {}
