//! Sealed content, sent.

use release::{Rendered, Sealed};

fn send(sealed: &Sealed<Rendered>) -> serde_json::Result<String> {
    serde_json::to_string(sealed)
}

fn main() {}
