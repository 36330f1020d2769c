//! Read back from what was sent.

use clinic::safety::ReleasedRecipe;

fn main() {
    let _: Result<ReleasedRecipe, _> = serde_json::from_str("{}");
}
