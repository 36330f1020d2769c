//! Content of one's own, sealed under a digest by hand.

use release::Sealed;

fn main() {
    let _ = Sealed { digest: [0; 32], content: "80 g of wax".into() };
}
