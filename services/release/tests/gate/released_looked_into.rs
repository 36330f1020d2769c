//! Released content, read by its field.

use release::Released;
use wire::recipe::Recipe;

fn content(released: &Released<Recipe>) -> &Recipe {
    &released.content
}

fn main() {}
