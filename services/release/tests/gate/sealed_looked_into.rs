//! Sealed content, read by its field.

use release::{Rendered, Sealed};

fn content(sealed: &Sealed<Rendered>) -> &Rendered {
    &sealed.content
}

fn main() {}
