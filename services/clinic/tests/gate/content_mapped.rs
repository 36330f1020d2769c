//! Released content, made into something else.

use clinic::Released;
use wire::recipe::Recipe;

fn title(released: Released<Recipe>) -> Released<String> {
    released.map(|recipe| recipe.title)
}

fn main() {}
