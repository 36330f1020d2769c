//! A released type, made by the constructor that the gate itself uses.

use release::Released;

fn main() {
    let _ = Released::new("80 g of wax", None);
}
