//! What findings of every subject are made with.

use galenics::Decimal;
use release::entries::Entry;
use wire::bench::{EntryKind, Finding, FindingKind};

/// Entries of a kind.
pub(crate) fn of_kind<'a>(live: &'a [&'a Entry], kind: EntryKind) -> impl Iterator<Item = &'a &'a Entry> {
    live.iter().filter(move |entry| entry.shown.kind == kind)
}

/// A finding of what is not recorded, to be completed.
pub(crate) fn missing(rule: &str) -> Finding {
    Finding {
        kind: FindingKind::Missing,
        line: None,
        step: None,
        entry: None,
        asked: None,
        recorded: None,
        sentence: String::new(),
        rule: rule.to_owned(),
    }
}

/// Twelve significant digits, as in figures.
pub(crate) fn shown(exact: Decimal) -> String {
    exact.round_sf(12).unwrap_or(exact).normalize().to_string()
}
