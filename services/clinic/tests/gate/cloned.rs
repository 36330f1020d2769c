//! Copied, to be shown to somebody else.

use clinic::safety::ReleasedRecipe;

fn copy(released: &ReleasedRecipe) -> ReleasedRecipe {
    released.clone()
}

fn main() {}
