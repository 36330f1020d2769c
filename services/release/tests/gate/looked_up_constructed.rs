//! A grant that was looked up for a reader, made by hand.

use release::lookup::LookedUp;

fn main() {
    let _ = LookedUp { digest: [0; 32], caution_digest: [0; 32], set_number: 1, policy: 1 };
}
