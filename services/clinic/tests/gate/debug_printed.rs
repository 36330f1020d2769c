//! Printed into a log.

use clinic::ReleasedRecipe;

fn log(released: &ReleasedRecipe) -> String {
    format!("{released:?}")
}

fn main() {}
