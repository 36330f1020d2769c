//! Printed into a message.

use clinic::safety::ReleasedRecipe;

fn message(released: &ReleasedRecipe) -> String {
    format!("{released}")
}

fn main() {}
