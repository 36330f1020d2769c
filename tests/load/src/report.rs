//! What came out: a table to read, and the same as JSON.

use std::fmt::Write;

use serde_json::{Value, json};

/// What a figure is held to.
#[derive(Clone, Copy)]
pub(crate) enum Bound {
    /// At least this much.
    AtLeast(f64),
    /// At most this much.
    AtMost(f64),
}

/// A figure that is held to a bound: the middle one of its rounds.
pub(crate) struct Figure {
    /// What was measured.
    pub(crate) name: &'static str,
    /// What it is held to.
    pub(crate) bound: Bound,
    /// What each round gave, in order.
    pub(crate) rounds: Vec<f64>,
}

/// The middle value, zero of none.
pub(crate) fn middle(values: &[f64]) -> f64 {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    sorted.get(sorted.len() / 2).copied().unwrap_or_default()
}

impl Figure {
    fn value(&self) -> f64 {
        middle(&self.rounds)
    }

    /// Whether the bound is kept.
    pub(crate) fn kept(&self) -> bool {
        match self.bound {
            Bound::AtLeast(bound) => self.value() >= bound,
            Bound::AtMost(bound) => self.value() <= bound,
        }
    }

    fn json(&self) -> Value {
        let (bound, words) = match self.bound {
            Bound::AtLeast(bound) => (bound, "at least"),
            Bound::AtMost(bound) => (bound, "at most"),
        };
        json!({ "name": self.name, "value": self.value(), words: bound, "kept": self.kept(), "rounds": self.rounds })
    }
}

/// A rate that is not held to anything, for reading along.
pub(crate) struct Rate {
    /// Of what, in what unit.
    pub(crate) name: &'static str,
    /// What each round gave, in order.
    pub(crate) rounds: Vec<f64>,
}

/// Lowest and highest.
fn span(values: &[f64]) -> (f64, f64) {
    let lowest = values.iter().copied().fold(f64::INFINITY, f64::min);
    let highest = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    (lowest, highest)
}

/// The table.
pub(crate) fn table(figures: &[Figure], rates: &[Rate]) -> String {
    let mut text = String::new();
    // Writing to a string cannot fail.
    let _ =
        writeln!(text, "{:<58} {:>8} {:>17}  {:<10} kept", "figure", "middle", "lowest..highest", "bound");
    for figure in figures {
        let (lowest, highest) = span(&figure.rounds);
        let bound = match figure.bound {
            Bound::AtLeast(bound) => format!(">= {bound:.2}"),
            Bound::AtMost(bound) => format!("<= {bound:.2}"),
        };
        let kept = if figure.kept() { "yes" } else { "NO" };
        let span = format!("{lowest:.2}..{highest:.2}");
        let _ = writeln!(text, "{:<58} {:>8.2} {span:>17}  {bound:<10} {kept}", figure.name, figure.value());
    }
    let _ = writeln!(text, "\n{:<58} {:>8} {:>17}", "rate", "middle", "lowest..highest");
    for rate in rates {
        let (lowest, highest) = span(&rate.rounds);
        let span = format!("{lowest:.0}..{highest:.0}");
        let _ = writeln!(text, "{:<58} {:>8.0} {span:>17}", rate.name, middle(&rate.rounds));
    }
    text
}

/// The same as JSON, with how it was measured.
pub(crate) fn document(figures: &[Figure], rates: &[Rate], how: Value) -> Value {
    json!({
        "how": how,
        "figures": figures.iter().map(Figure::json).collect::<Vec<_>>(),
        "rates": rates.iter().map(|rate| json!({ "name": rate.name, "rounds": rate.rounds })).collect::<Vec<_>>(),
    })
}

#[cfg(test)]
mod tests {
    use super::{Bound, Figure};

    #[test]
    fn the_middle_round_decides() {
        let figure = |bound| Figure { name: "x", bound, rounds: vec![9.0, 1.0, 3.0] };
        assert!(figure(Bound::AtLeast(3.0)).kept() && !figure(Bound::AtLeast(3.1)).kept());
        assert!(figure(Bound::AtMost(3.0)).kept() && !figure(Bound::AtMost(2.9)).kept());
    }
}
