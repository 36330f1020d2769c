//! Made from nothing.

use clinic::safety::ReleasedRecipe;

fn main() {
    let _ = ReleasedRecipe::default();
}
