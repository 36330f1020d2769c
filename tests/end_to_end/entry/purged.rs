//! Purges.
