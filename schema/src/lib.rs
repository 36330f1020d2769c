//! Diesel's view of the database.
