//! A proof for every level, made by hand from a grant for the outermost alone.

use release::{AllOpen, EveryLevel, Grant};

fn every_level<'g, 't>(grant: &'g Grant<'t>, nested: AllOpen<'t>) -> EveryLevel<'g, 't> {
    EveryLevel { digest: grant.digest(), was_read: true, nested }
}

fn main() {}
