//! Teaching: cohorts, the work set to them, the questions that students answer, and what they hand in.

mod assignments;
mod cohorts;
mod questions;
mod work;

pub use assignments::*;
pub use cohorts::*;
pub use questions::*;
pub use work::*;
