//! Released content, copied by the way in which the gate hands rendered recipes on.

use release::{ForRules, ReleasedRecipe, Rendered};

fn copy(released: &ReleasedRecipe) -> Rendered {
    released.content().again()
}

fn main() {}
