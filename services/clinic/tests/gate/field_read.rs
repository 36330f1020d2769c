//! Looked into.

use clinic::safety::Released;
use wire::recipe::Recipe;

fn content(released: &Released<Recipe>) -> &Recipe {
    &released.0
}

fn main() {}
