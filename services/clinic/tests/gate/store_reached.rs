//! The store, on which a handler could open a transaction of its own.

use clinic::Clinic;

fn store(clinic: &Clinic) {
    let _ = &clinic.store;
}

fn main() {}
