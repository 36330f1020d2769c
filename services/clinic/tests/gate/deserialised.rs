//! Read back from what was sent.

use clinic::ReleasedRecipe;

fn read_back<T: serde::Deserialize<'static>>() {}

fn main() {
    read_back::<ReleasedRecipe>();
}
