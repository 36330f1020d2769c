//! A grant that was looked up for one reading, used for a second.

use release::lookup::LookedUp;
use release::{Rendered, Sealed};

fn twice(grant: LookedUp, first: &Sealed<Rendered>, second: &Sealed<Rendered>) {
    let _ = grant.open(first);
    let _ = grant.open(second);
}

fn main() {}
