//! Where the journal does not hold, in plain sentences.

use std::fmt::Display;

/// How many breaks are kept in words.
const MOST: usize = 1000;

/// The first breaks that verifying met, and how many there are: bounded in memory, however much was damaged.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Breaks {
    first: Vec<String>,
    total: u64,
}

impl Breaks {
    /// Notes a break: a sentence that names the table, the key and what differs, and quotes no stored value.
    pub fn push(&mut self, found: impl Display) {
        self.total += 1;
        if self.first.len() < MOST {
            self.first.push(found.to_string());
        }
    }

    /// The first breaks, in the order in which they were met.
    #[must_use]
    pub fn listed(&self) -> &[String] {
        &self.first
    }

    /// How many there are, with those that are not kept in words.
    #[must_use]
    pub const fn total(&self) -> u64 {
        self.total
    }

    /// Whether there is none.
    #[must_use]
    pub const fn is_empty(&self) -> bool {
        self.total == 0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn breaks_are_counted_beyond_those_that_are_kept_in_words() {
        let mut breaks = Breaks::default();
        assert!(breaks.is_empty());
        for number in 0..2500 {
            breaks.push(number);
        }
        assert_eq!((breaks.listed().len(), breaks.total()), (MOST, 2500));
        assert_eq!(breaks.listed().first().map(String::as_str), Some("0"));
    }
}
