//! Bytes to be sent, made by hand.

use release::Rendered;

fn rendered(json: std::sync::Arc<serde_json::value::RawValue>) -> Rendered {
    Rendered { json, tag: [0; 32] }
}

fn main() {}
