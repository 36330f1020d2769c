//! How large a formula may be, with all that it contains: what is more is refused when it is saved and when it is
//! evaluated, so that every calculation has an end that is known.
//!
//! The largest formulas of the trade have some forty lines and three levels; the maxima leave room for what nobody has
//! thought of, and none for what would hold a core for seconds.

/// Lines of one formula, over all its phases. Steps of the method and cautions of the author have the same maximum.
pub const LINES: usize = 200;

/// Levels of nesting, the formula itself included.
pub const LEVELS: usize = 12;

/// Revisions that a formula may nest at all levels together, each counted once.
pub const NESTED: usize = 200;

/// Materials that a formula may contain at all levels together, each counted once.
pub const MATERIALS: usize = 500;

/// Lines of a formula and of every revision nested in it, each revision counted once.
pub const LINES_OF_ALL_LEVELS: usize = 5000;
