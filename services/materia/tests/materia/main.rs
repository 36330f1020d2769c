//! The data set against published values, against itself, and as the trade would ask it.

#![expect(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    reason = "a helper of a test fails the test by panicking, as the test itself does"
)]

mod entries;
mod facts;
mod names;
mod poisons;
mod published;
mod refusals;
mod trade;
mod whole;

use materia::{Materia, Material};

fn embedded() -> Materia {
    Materia::embedded().unwrap()
}

fn material<'m>(materia: &'m Materia, key: &str) -> &'m Material {
    materia.material(key).unwrap_or_else(|| panic!("no material {key}"))
}
