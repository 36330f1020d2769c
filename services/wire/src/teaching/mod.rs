//! Teaching: cohorts, the work set to them, the questions that students answer, what they hand in, and how it is marked.

mod appeals;
mod assignments;
mod charts;
mod cohorts;
mod competencies;
mod grid;
mod marks;
mod moderation;
mod progress;
mod questions;
mod queue;
mod work;
mod work_limits;

pub use appeals::*;
pub use assignments::*;
pub use charts::*;
pub use cohorts::*;
pub use competencies::*;
pub use grid::*;
pub use marks::*;
pub use moderation::*;
pub use progress::*;
pub use questions::*;
pub use queue::*;
pub use work::*;
pub use work_limits::*;
