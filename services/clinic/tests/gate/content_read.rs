//! Released content, read by the way that the clinic's own rules use.

use clinic::Released;
use wire::recipe::Recipe;

fn content(released: &Released<Recipe>) -> &Recipe {
    released.content()
}

fn main() {}
