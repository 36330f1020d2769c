//! Copied by the way in which the gate hands rendered recipes on.

use clinic::safety::ReleasedRecipe;

fn copy(released: &ReleasedRecipe) {
    let _ = released.again();
}

fn main() {}
