//! Sealed content, printed into a log.

use release::{Rendered, Sealed};

fn log(sealed: &Sealed<Rendered>) -> String {
    format!("{sealed:?}")
}

fn main() {}
