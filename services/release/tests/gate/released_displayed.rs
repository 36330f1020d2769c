//! Released content, printed into a message.

use release::ReleasedRecipe;

fn message(released: &ReleasedRecipe) -> String {
    format!("{released}")
}

fn main() {}
