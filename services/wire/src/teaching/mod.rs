//! Teaching: cohorts, the work set to them, the questions that students answer, what they hand in, and how it is marked.

mod assignments;
mod cohorts;
mod marks;
mod questions;
mod work;

pub use assignments::*;
pub use cohorts::*;
pub use marks::*;
pub use questions::*;
pub use work::*;
