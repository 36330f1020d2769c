//! Position of a line in a formula.

/// Phase index and line index, both counted from 0.
pub type Place = (usize, usize);

/// Parses a line number as people write it, counted from 1: `1.2` is the second line of the first phase. Returns `None`
/// for anything else.
#[must_use]
pub fn line_index(text: &str) -> Option<Place> {
    let (phase, line) = text.trim().split_once('.')?;
    Some((phase.parse::<usize>().ok()?.checked_sub(1)?, line.parse::<usize>().ok()?.checked_sub(1)?))
}
