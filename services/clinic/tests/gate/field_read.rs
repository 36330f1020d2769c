//! Looked into.

use clinic::Released;
use wire::recipe::Recipe;

fn content(released: &Released<Recipe>) -> &Recipe {
    &released.0
}

fn main() {}
