//! Amendments: changes of materials and of the clinic's cautions, and their effects on formulas.
//!
//! Materials are added, revised, merged or imported; cautions are added or given another level. A change that lowers a
//! caution or concerns the safety of a material awaits a second person. An amendment that comes into force recomputes
//! the caution set of every revision concerned in the same transaction. Never here: a change of a frozen revision, or a
//! caution that disappears.

mod apply;
mod decide;
pub(crate) mod kept;
mod make;
mod reach;
mod show;

pub(crate) use apply::{calculations, reference_data, with_aliases};
pub use decide::{decide, reinstate};
pub use make::make;
pub(crate) use reach::Reach;
pub use show::{affected, amendment, amendments};
