//! Teaching: cohorts, the work set to them, and the questions that students answer.

mod assignments;
mod cohorts;
mod questions;

pub use assignments::*;
pub use cohorts::*;
pub use questions::*;
