//! Copied by the way in which the gate hands rendered recipes on.

use clinic::ReleasedRecipe;

fn copy(released: &ReleasedRecipe) {
    let _ = released.again();
}

fn main() {}
