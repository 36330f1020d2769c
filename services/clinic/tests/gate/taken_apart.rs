//! Taken apart by a pattern.

use clinic::Released;
use wire::recipe::Recipe;

fn content(released: Released<Recipe>) -> Recipe {
    let Released(content) = released;
    content
}

fn main() {}
