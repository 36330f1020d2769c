//! A grant that was looked up for a reader, made by hand.

use release::lookup::LookedUp;

fn main() {
    let _ = LookedUp(([0; 32], [0; 32], 1, 1));
}
