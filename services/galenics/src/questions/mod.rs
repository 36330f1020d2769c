//! Calculation questions for learners: what is asked with given numbers, the right answer, what common errors would give,
//! the steps, and the judgement of an answer as it was typed.
//!
//! The numbers are the learner's own and are drawn by whoever asks. They say nothing of any formula.

mod dilution;
mod filling;
mod judge;
mod mistakes;

pub use dilution::Dilution;
pub use filling::{Bottles, Jars};
pub use judge::{AnswerError, Asked, Expected, Judged, judge, parse_number};
pub use mistakes::{CommonError, Mistake};
