//! Photographs: what was sent is decoded within bounds and encoded anew, and its files are kept outside of the database.
//!
//! A picture that leaves this crate is one that this crate drew: whatever else stood in the file that was sent, such as where
//! and with what it was taken, or a script behind it, is gone. May use `store`. Never here: a row, a right, or the file as
//! it was sent.

mod darkroom;
mod files;
mod picture;

pub use darkroom::{Darkroom, Place};
pub use files::{Bucket, Files, Found, Home, Name, Size};
pub use picture::{Developed, Drawn, LARGEST, LONGEST_SIDE, MOST_PIXELS, develop};
