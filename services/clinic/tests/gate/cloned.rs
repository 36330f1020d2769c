//! Copied, to be shown to somebody else.

use clinic::ReleasedRecipe;

fn copy(released: &ReleasedRecipe) -> ReleasedRecipe {
    released.clone()
}

fn main() {}
