//! Content of one's own, sealed under a digest by the constructor that the gate itself uses.

use release::Sealed;

fn main() {
    let _ = Sealed::new([0; 32], "80 g of wax");
}
