//! The numbers that a kept result carries.

/// The version of the calculations. It is raised by one, by hand, in the commit after which any value, unit or
/// verdict of an evaluation differs for any formula; [the module](super) says when in full.
pub const ENGINE: u32 = 4;

/// The version of the stored document. It is raised when the document changes its shape.
///
/// Format 1 has no water of a solution and no expected yield, formats 1 and 2 nothing of what evaporated; they are read as
/// they were.
pub const FORMAT: u32 = 3;

/// The oldest version of the stored document that is still read.
pub(super) const OLDEST_FORMAT: u32 = 1;
