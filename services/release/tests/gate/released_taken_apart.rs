//! Released content, taken apart by a pattern.

use release::Released;
use wire::recipe::Recipe;

fn content(released: Released<Recipe>) -> Recipe {
    let Released { content, .. } = released;
    content
}

fn main() {}
