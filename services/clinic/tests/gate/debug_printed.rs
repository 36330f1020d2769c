//! Printed into a log.

use clinic::safety::ReleasedRecipe;

fn log(released: &ReleasedRecipe) -> String {
    format!("{released:?}")
}

fn main() {}
