//! The clinic's rules and records.
