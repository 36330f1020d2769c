//! Printed into a message.

use clinic::ReleasedRecipe;

fn message(released: &ReleasedRecipe) -> String {
    format!("{released}")
}

fn main() {}
