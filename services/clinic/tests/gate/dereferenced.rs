//! Used as the content itself.

use clinic::Released;
use wire::recipe::Recipe;

fn total(released: &Released<Recipe>) -> &Recipe {
    &**released
}

fn main() {}
