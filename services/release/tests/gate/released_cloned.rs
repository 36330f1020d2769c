//! Released content, copied for another reader.

use release::ReleasedRecipe;

fn copy(released: &ReleasedRecipe) -> ReleasedRecipe {
    released.clone()
}

fn main() {}
