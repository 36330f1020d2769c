//! Sealed content, opened by a role.

use release::{Rendered, Sealed};
use store::Instructor;

fn open(sealed: &Sealed<Rendered>, me: Instructor<'_>) {
    let _ = sealed.open(&me);
}

fn main() {}
