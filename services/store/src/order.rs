//! The locks that a transaction holds, and the order that it must take them in.
//!
//! Ranks and what they stand for are those of the crate `locks`. What never happens here: a lock.

use std::collections::BTreeMap;

use uuid::Uuid;

use crate::error::{Error, Result};

/// How a row is locked.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Mode {
    /// With others who hold it so: it stays as it is.
    Shared,
    /// Alone: it is going to change.
    Exclusive,
}

/// The locks of a transaction, by rank and id.
#[derive(Debug, Default)]
pub struct Held(BTreeMap<(u8, Uuid), Mode>);

impl Held {
    /// Whether a lock is held, at least so.
    #[must_use]
    pub fn holds(&self, rank: u8, id: Uuid, mode: Mode) -> bool {
        self.0.get(&(rank, id)).is_some_and(|held| *held >= mode)
    }

    /// Those of the wanted locks of one rank that are not held, in the order in which they must be taken.
    ///
    /// # Errors
    /// [`Error::Internal`] when one of them comes before a lock that is held: whoever takes locks in two orders waits,
    /// sooner or later, for somebody who waits for them.
    pub fn missing(&self, rank: u8, wanted: &BTreeMap<Uuid, Mode>) -> Result<Vec<(Uuid, Mode)>> {
        let missing: Vec<_> = wanted
            .iter()
            .filter(|(id, mode)| !self.holds(rank, **id, **mode))
            .map(|(id, mode)| (*id, *mode))
            .collect();
        let last = self.0.keys().next_back();
        if let (Some((first, _)), Some(last)) = (missing.first(), last)
            && (rank, *first) <= *last
        {
            return Err(Error::internal(format!("locks out of order: rank {rank} after rank {}", last.0)));
        }
        Ok(missing)
    }

    /// Notes locks that were taken.
    pub fn taken(&mut self, rank: u8, locks: impl IntoIterator<Item = (Uuid, Mode)>) {
        self.0.extend(locks.into_iter().map(|(id, mode)| ((rank, id), mode)));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(ids: &[u128], mode: Mode) -> BTreeMap<Uuid, Mode> {
        ids.iter().map(|id| (Uuid::from_u128(*id), mode)).collect()
    }

    #[test]
    fn locks_are_refused_that_come_before_one_that_is_held() {
        let mut held = Held::default();
        let missing = held.missing(3, &of(&[5, 2], Mode::Shared)).unwrap();
        assert_eq!(missing, [(Uuid::from_u128(2), Mode::Shared), (Uuid::from_u128(5), Mode::Shared)]);
        held.taken(3, missing);
        assert!(held.missing(3, &of(&[2, 5], Mode::Shared)).unwrap().is_empty(), "held already");
        assert_eq!(held.missing(3, &of(&[2, 7], Mode::Shared)).unwrap().len(), 1, "after all that are held");
        assert!(held.missing(4, &of(&[1], Mode::Exclusive)).is_ok());
        assert!(held.missing(3, &of(&[4], Mode::Shared)).is_err(), "between two of one rank");
        assert!(held.missing(2, &of(&[9], Mode::Shared)).is_err(), "an earlier rank");
        assert!(held.missing(3, &of(&[5], Mode::Exclusive)).is_err(), "a stronger lock than is held");
    }
}
