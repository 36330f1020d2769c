//! Released content, printed into a log.

use release::ReleasedRecipe;

fn log(released: &ReleasedRecipe) -> String {
    format!("{released:?}")
}

fn main() {}
