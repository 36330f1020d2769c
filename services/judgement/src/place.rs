//! Where a line stands in a formula.

/// A line by phase and line, counted from 0.
pub type Place = (usize, usize);

/// `1.2` is the second line of the first phase: indices counted from 0.
pub fn line_index(text: &str) -> Option<Place> {
    let (phase, line) = text.trim().split_once('.')?;
    Some((phase.parse::<usize>().ok()?.checked_sub(1)?, line.parse::<usize>().ok()?.checked_sub(1)?))
}
