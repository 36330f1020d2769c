//! Released content, copied for another reader.

use clinic::ReleasedRecipe;

fn copy(released: &ReleasedRecipe) -> ReleasedRecipe {
    released.clone()
}

fn main() {}
