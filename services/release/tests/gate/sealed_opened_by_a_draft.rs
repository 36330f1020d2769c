//! Frozen content, opened by the proof of an own draft.

use release::{Draft, Rendered, Sealed};

fn open(sealed: &Sealed<Rendered>, mine: &Draft<'_>) {
    let _ = sealed.open(mine);
}

fn main() {}
