//! A database that goes away in the middle.
