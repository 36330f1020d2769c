//! Sealed content, read by work on it without saying why.

use release::{Rendered, Sealed};

async fn copy(sealed: Sealed<Rendered>) {
    let _ = sealed.try_map(async |content| Ok(serde_json::to_string(content)?)).await;
}

fn main() {}
