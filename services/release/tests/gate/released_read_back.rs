//! A released type, read back from what was sent.

use release::ReleasedRecipe;

fn read_back<T: serde::Deserialize<'static>>() {}

fn main() {
    read_back::<ReleasedRecipe>();
}
