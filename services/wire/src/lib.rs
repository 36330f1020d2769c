//! The types that travel between the service and its callers: ids, requests and responses.
//!
//! For: the JSON API and the typed client, which share these definitions. May use: serde, utoipa and the
//! value types. What never happens here: rules, queries, Diesel, HTTP. Requests refuse unknown fields;
//! decimals and quantities are strings with their unit, as the trade writes them.

pub mod adjustments;
pub mod amendments;
pub mod bench;
pub mod calculations;
pub mod checks;
pub mod deviations;
mod entry_kind;
pub mod figure;
pub mod filed;
pub mod formulary;
pub mod handovers;
pub mod holds;
pub mod ids;
pub mod jars;
pub mod journal;
pub mod kinds;
pub mod label;
pub mod long_work;
pub mod mark;
pub mod materials;
pub mod observations;
pub mod page;
pub mod people;
pub mod photographs;
pub mod policy;
pub mod problem;
pub mod reactions;
pub mod recalls;
pub mod recipe;
pub mod safety;
pub mod security;
pub mod self_check;
pub mod stock;
pub mod teaching;
mod words;
