//! What was refused since security events were last written.

use std::collections::HashMap;
use std::collections::hash_map::Entry;
use std::sync::{Mutex, MutexGuard, PoisonError};

use canonical::Sha;
use chrono::{DateTime, Utc};
use hmac::{Hmac, KeyInit, Mac};
use sha2::Sha256;
use uuid::Uuid;
use wire::security::SecurityEventKind;

use crate::origin::Origin;

/// How many distinct attempts are held at most. What comes beyond is counted by its kind alone.
const MOST: usize = 500;

/// Who tried, or at whose account.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub enum Who {
    /// Not known.
    Nobody,
    /// A person or an API client.
    Principal(Uuid),
    /// Whoever has the key with this digest, if anybody has.
    Key(Sha),
    /// A sign-in name that no account has, as a keyed digest.
    Account(Sha),
}

/// A refused attempt.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct Attempt {
    pub(super) kind: SecurityEventKind,
    pub(super) who: Who,
    pub(super) network: Option<Sha>,
    pub(super) operation: Option<String>,
}

/// How often, and when.
#[derive(Clone, Copy, Debug)]
pub(super) struct Tally {
    pub(super) count: i64,
    pub(super) first_at: DateTime<Utc>,
    pub(super) last_at: DateTime<Utc>,
}

/// Gathers security events, and makes the keyed digests in them.
pub struct Security {
    key: Sha,
    gathered: Mutex<HashMap<Attempt, Tally>>,
}

impl Security {
    /// Gathers with a key for the digests. Rows are comparable while the key stays the same.
    #[must_use]
    pub fn new(key: Sha) -> Self {
        Self { key, gathered: Mutex::default() }
    }

    /// A sign-in name as it may be stored.
    pub(crate) fn account(&self, sign_in_name: &str) -> Who {
        self.digest("account", &sign_in_name.trim().to_lowercase()).map_or(Who::Nobody, Who::Account)
    }

    /// Notes an attempt. `operation` names it by method and pattern, without ids.
    pub fn note(
        &self,
        now: DateTime<Utc>,
        kind: SecurityEventKind,
        who: Who,
        origin: &Origin,
        operation: Option<String>,
    ) {
        let network = origin.network();
        let network = if network.is_empty() { None } else { self.digest("network", network) };
        let once = Tally { count: 1, first_at: now, last_at: now };
        add(&mut self.lock(), Attempt { kind, who, network, operation }, once);
    }

    /// Takes what was gathered.
    pub(super) fn take(&self) -> HashMap<Attempt, Tally> {
        std::mem::take(&mut *self.lock())
    }

    /// Gives back what could not be written.
    pub(super) fn give_back(&self, taken: HashMap<Attempt, Tally>) {
        let mut gathered = self.lock();
        for (attempt, tally) in taken {
            add(&mut gathered, attempt, tally);
        }
    }

    fn lock(&self) -> MutexGuard<'_, HashMap<Attempt, Tally>> {
        self.gathered.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn digest(&self, what: &str, value: &str) -> Option<Sha> {
        let mut mac = Hmac::<Sha256>::new_from_slice(&self.key).ok()?;
        mac.update(what.as_bytes());
        mac.update(&[0]);
        mac.update(value.as_bytes());
        Some(mac.finalize().into_bytes().into())
    }
}

fn add(gathered: &mut HashMap<Attempt, Tally>, attempt: Attempt, tally: Tally) {
    let full = gathered.len() >= MOST && !gathered.contains_key(&attempt);
    let attempt = if full {
        Attempt { kind: attempt.kind, who: Who::Nobody, network: None, operation: None }
    } else {
        attempt
    };
    match gathered.entry(attempt) {
        Entry::Vacant(free) => {
            free.insert(tally);
        }
        Entry::Occupied(mut taken) => {
            let known = taken.get_mut();
            known.count = known.count.saturating_add(tally.count);
            known.first_at = known.first_at.min(tally.first_at);
            known.last_at = known.last_at.max(tally.last_at);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn attempts_are_counted_and_their_number_is_bounded() {
        let security = Security::new([7; 32]);
        let now = DateTime::from_timestamp(1_800_000_000, 0).unwrap();
        let origin = Origin::of(Some("198.51.100.1".parse().unwrap()), None);
        for i in 0..10_000_u32 {
            let who = security.account(&format!("name {i}"));
            security.note(now, SecurityEventKind::SignInFailed, who, &origin, None);
        }
        security.note(now, SecurityEventKind::CodeFailed, Who::Nobody, &origin, None);
        let taken = security.take();
        assert_eq!(taken.len(), MOST + 2, "those beyond are counted by their kind alone");
        assert_eq!(taken.values().map(|tally| tally.count).sum::<i64>(), 10_001);
        assert!(security.take().is_empty());
        security.give_back(taken);
        assert_eq!(security.take().values().map(|tally| tally.count).sum::<i64>(), 10_001);
    }

    #[test]
    fn digests_depend_on_the_key_and_not_on_spelling() {
        let (one, other) = (Security::new([1; 32]), Security::new([2; 32]));
        assert_eq!(one.account("Ilse.Brandt "), one.account("ilse.brandt"));
        assert_ne!(one.account("ilse.brandt"), other.account("ilse.brandt"));
        assert_ne!(one.digest("account", "x"), one.digest("network", "x"));
    }
}
