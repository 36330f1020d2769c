//! The rules' own trait, named through the clinic.

use clinic::ForRules;

fn main() {}
