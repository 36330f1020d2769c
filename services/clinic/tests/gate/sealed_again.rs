//! Released bytes, sealed to be kept for another reader.

use clinic::ReleasedRecipe;

fn keep(released: &ReleasedRecipe) {
    let _ = clinic::Sealed::again(released);
}

fn main() {}
