//! What a use case imports of the gate for itself.

use clinic::people::grants;

fn main() {}
