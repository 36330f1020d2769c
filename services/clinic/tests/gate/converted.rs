//! Made from something else by conversion.

use clinic::Released;

fn main() {
    let _: Released<String> = String::from("80 g of wax").into();
}
