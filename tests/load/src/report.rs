//! What came out: a table to read, and the same as JSON.

use std::fmt::Write;
use std::time::Duration;

use serde_json::{Value, json};

use crate::{ASKED, OWN, PAGES, READINGS, Round};

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
    pub(crate) name: String,
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
    pub(crate) name: String,
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

/// Everything that is reported: the figures that are held to bounds, and the rates beside them.
pub(crate) fn all(
    rounds: &[Round],
    [pages, queues, traces]: [&[(Duration, Duration)]; 3],
    searches: &[f64],
    idle: f64,
) -> (Vec<Figure>, Vec<Rate>) {
    let each = |of: &dyn Fn(&Round) -> f64| rounds.iter().map(of).collect::<Vec<_>>();
    let reading = |kind: usize| move |round: &Round| round.readings.get(kind).copied().unwrap_or_default();
    let mut figures = Vec::new();
    let mut hold = |name: String, bound, rounds| figures.push(Figure { name, bound, rounds });
    for (kind, (name, bound)) in READINGS.iter().zip([0.65, 0.40, 0.15, 0.15, 0.15, 0.15]).enumerate() {
        let rate = reading(kind);
        hold(
            format!("{name} / pgbench -S"),
            Bound::AtLeast(bound),
            each(&|round| rate(round) / round.yardstick),
        );
    }
    for (answer, page) in PAGES {
        let (name, of) = (READINGS.get(page).unwrap_or(&""), READINGS.get(answer).unwrap_or(&""));
        let cost = each(&|round| reading(answer)(round) / reading(page)(round));
        hold(format!("cost of the {name} / {of}"), Bound::AtMost(1.5), cost);
    }
    let (own, asked) = (reading(OWN), reading(ASKED));
    let ratio = each(&|round| asked(round) / own(round));
    hold("asked quantity / own quantity".into(), Bound::AtLeast(0.60), ratio);
    hold(
        "own quantity / the bare Python service".into(),
        Bound::AtLeast(5.0),
        each(&|round| own(round) / round.bare),
    );
    hold(
        "own quantity beside sign-ins / alone".into(),
        Bound::AtLeast(0.5),
        each(&|round| round.beside / own(round)),
    );
    let writing = each(&|round| round.weighings / round.updates);
    hold("weighings by 50 / pgbench -N, fsync on".into(), Bound::AtLeast(0.30), writing);
    let slowest = each(&|round| round.slowest);
    hold("slowest 1 % / middle weighing of a class of 24".into(), Bound::AtMost(10.0), slowest);
    hold("page 1,000 / page one, of 100,000 formulas".into(), Bound::AtMost(1.3), page_ratios(pages));
    let queues = page_ratios(queues);
    hold("queue of 1,000,000 / queue of 1,000, first page".into(), Bound::AtMost(1.3), queues);
    hold(
        "trace from a lot, of 1,000,000 batches, slowest 2 %, ms".into(),
        Bound::AtMost(50.0),
        slow(traces, |pair| pair.0),
    );
    hold(
        "trace back to lots, of 1,000,000 batches, slowest 2 %, ms".into(),
        Bound::AtMost(50.0),
        slow(traces, |pair| pair.1),
    );
    hold("search / sequential scan, 100,000 materials".into(), Bound::AtMost(0.1), searches.to_vec());
    hold("idle memory after start, MB".into(), Bound::AtMost(40.0), vec![idle]);

    let mut rates = vec![
        Rate { name: "pgbench -S".into(), rounds: each(&|round| round.yardstick) },
        Rate { name: "the same bytes without any proof".into(), rounds: each(&|round| round.unproved) },
        Rate { name: "the bare Python service".into(), rounds: each(&|round| round.bare) },
    ];
    for (kind, name) in READINGS.iter().enumerate() {
        rates.push(Rate { name: (*name).to_owned(), rounds: each(&reading(kind)) });
    }
    rates.extend([
        Rate {
            name: "recipe in its own quantity, beside sign-ins".into(),
            rounds: each(&|round| round.beside),
        },
        Rate { name: "sign-ins beside them".into(), rounds: each(&|round| round.sign_ins) },
        Rate { name: "pgbench -N, 50 clients".into(), rounds: each(&|round| round.updates) },
        Rate { name: "weighings, 50 writers".into(), rounds: each(&|round| round.weighings) },
    ]);
    (figures, rates)
}

/// In ten parts, each the ratio of two middle times: single times say nothing.
fn page_ratios(pages: &[(Duration, Duration)]) -> Vec<f64> {
    let part = |part: &[(Duration, Duration)]| {
        let middle = |of: fn(&(Duration, Duration)) -> Duration| {
            middle(&part.iter().map(|pair| of(pair).as_secs_f64()).collect::<Vec<_>>())
        };
        middle(|pair| pair.1) / middle(|pair| pair.0)
    };
    pages.chunks(pages.len().div_ceil(10).max(1)).map(part).collect()
}

/// In ten parts, the time of each, in ms, that one in fifty exceeded.
fn slow(pairs: &[(Duration, Duration)], of: fn(&(Duration, Duration)) -> Duration) -> Vec<f64> {
    let part = |part: &[(Duration, Duration)]| {
        let mut taken: Vec<f64> = part.iter().map(|pair| of(pair).as_secs_f64() * 1e3).collect();
        taken.sort_by(f64::total_cmp);
        taken
            .len()
            .checked_sub(1 + taken.len() / 50)
            .and_then(|at| taken.get(at).copied())
            .unwrap_or_default()
    };
    pairs.chunks(pairs.len().div_ceil(10).max(1)).map(part).collect()
}

#[cfg(test)]
mod tests {
    use super::{Bound, Figure};

    #[test]
    fn the_middle_round_decides() {
        let figure = |bound| Figure { name: "x".into(), bound, rounds: vec![9.0, 1.0, 3.0] };
        assert!(figure(Bound::AtLeast(3.0)).kept() && !figure(Bound::AtLeast(3.1)).kept());
        assert!(figure(Bound::AtMost(3.0)).kept() && !figure(Bound::AtMost(2.9)).kept());
    }
}
