//! A grant, copied to be used later.

use release::Grant;

fn copy<'t>(grant: &Grant<'t>) -> Grant<'t> {
    grant.clone()
}

fn main() {}
