//! Released content, used as the content itself.

use release::Released;
use wire::recipe::Recipe;

fn total(released: &Released<Recipe>) -> &Recipe {
    &**released
}

fn main() {}
