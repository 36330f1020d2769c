//! A released type, made by hand from content that passed no gate.

use release::Released;

fn main() {
    let _ = Released { content: "80 g of wax", to_make: None };
}
