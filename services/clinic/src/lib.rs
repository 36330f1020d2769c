//! The clinic's rules and records: one module per subject, in each the rules beside their store.
//!
//! A request comes in as a [`Claim`]; a public function here opens one transaction on one connection, whose
//! first statement proves the claim, and answers with types of `wire`. May use: `galenics`, `materia`,
//! `schema`, `wire`. What never happens here: HTTP, pages, reading the system's clock anywhere but in
//! [`clock`], letting amounts or method out other than inside a [`safety::Released`].

pub mod amendments;
pub mod bench;
pub mod calculations;
pub mod canonical;
pub mod clock;
pub mod error;
mod figures;
pub mod formulary;
pub mod journal;
mod lot;
pub mod materials;
mod meant;
pub mod page;
pub mod people;
pub mod policy;
mod pool;
mod reader;
pub mod safety;
mod sql;
mod tx;

pub use error::{Error, Result};
pub use pool::{Pool, PoolSettings, connect};
pub use reader::Reader;
pub use tx::{Actor, Administrator, Claim, Store, Instructor, Once, PersonActor, Tx};
