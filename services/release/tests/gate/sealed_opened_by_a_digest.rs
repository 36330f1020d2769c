//! Sealed content, opened by its digest, which proves nothing.

use release::{Rendered, Sealed};

fn open(sealed: &Sealed<Rendered>) {
    let _ = sealed.open(sealed.digest());
}

fn main() {}
