//! What verifying found, and how it is told.

use std::collections::BTreeMap;
use std::fmt::{self, Display};

use crate::journal::breaks::Breaks;

/// What verifying found.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Verdict {
    /// How many events were read.
    pub events: u64,
    /// How many chains they form.
    pub chains: u64,
    /// How many events have their place in the public order.
    pub numbered: u64,
    /// How many rows were verified, by table.
    pub rows: BTreeMap<&'static str, u64>,
    /// How many rows were removed, as their last event says.
    pub removed: u64,
    /// What was checked besides.
    pub checks: BTreeMap<&'static str, u64>,
    /// What is older than this proof.
    pub older: Older,
    /// Where the journal does not hold.
    pub breaks: Breaks,
}

/// What cannot be recomputed, because its salt was never kept: events from before rows were vouched for.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Older {
    /// Events of the first form that carry a digest.
    pub events: u64,
    /// The digests they carry.
    pub digests: u64,
}

impl Verdict {
    /// Whether nothing was found.
    #[must_use]
    pub const fn holds(&self) -> bool {
        self.breaks.is_empty()
    }
}

impl Display for Verdict {
    /// The breaks, one a line, then what was verified.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for found in self.breaks.listed() {
            writeln!(f, "{found}")?;
        }
        let said = u64::try_from(self.breaks.listed().len()).unwrap_or(u64::MAX);
        if self.breaks.total() > said {
            writeln!(f, "{} further breaks are not listed", self.breaks.total() - said)?;
        }
        for (table, count) in &self.rows {
            writeln!(f, "{table}: {count} rows verified")?;
        }
        for (name, count) in &self.checks {
            writeln!(f, "{count} {name} verified")?;
        }
        writeln!(f, "{} rows removed, as an event says", self.removed)?;
        writeln!(
            f,
            "{} digests in {} events are older than this proof and cannot be recomputed",
            self.older.digests, self.older.events
        )?;
        write!(
            f,
            "{} events in {} chains, {} in the public order, {} breaks",
            self.events,
            self.chains,
            self.numbered,
            self.breaks.total()
        )
    }
}
