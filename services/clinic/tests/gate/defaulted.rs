//! Made from nothing.

use clinic::ReleasedRecipe;

fn main() {
    let _ = ReleasedRecipe::default();
}
