//! A released type, made from nothing.

use release::ReleasedRecipe;

fn main() {
    let _ = ReleasedRecipe::default();
}
