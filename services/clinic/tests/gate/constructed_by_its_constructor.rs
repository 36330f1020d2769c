//! Made by the constructor that the gate itself uses.

use clinic::Released;

fn main() {
    let _ = Released::new("80 g of wax");
}
