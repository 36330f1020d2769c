//! Questions: what they take from a formula, and how they are put to one student.

mod amounts;
mod audiences;
mod dates;
mod of_bank;
mod put;
pub(crate) mod source;

pub(crate) use amounts::named;
pub(crate) use put::put;
