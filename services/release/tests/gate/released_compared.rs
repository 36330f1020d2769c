//! Released content, compared with guesses until one fits.

use release::ReleasedRecipe;

fn same(one: &ReleasedRecipe, other: &ReleasedRecipe) -> bool {
    one == other
}

fn main() {}
