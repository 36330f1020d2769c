//! A released type, made from something else by conversion.

use release::Released;

fn main() {
    let _: Released<String> = String::from("80 g of wax").into();
}
