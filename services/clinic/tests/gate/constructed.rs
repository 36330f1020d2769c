//! Made from content that never passed a door.

use clinic::Released;

fn main() {
    let _ = Released("80 g of wax");
}
