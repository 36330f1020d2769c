//! The one clock and the one source of randomness. Both can be set in tests.

use std::sync::Mutex;
use std::sync::atomic::{AtomicI64, Ordering};

use chrono::{DateTime, Utc};
use rand::rngs::StdRng;
use rand::{Rng as _, SeedableRng};
use uuid::Uuid;

/// Where the time comes from. It goes into SQL as a parameter; no query asks the database for it.
#[derive(Debug)]
pub enum Clock {
    /// The machine's clock.
    System,
    /// A clock that stands still until it is moved: microseconds since the epoch.
    Manual(AtomicI64),
}

impl Clock {
    /// A clock that stands at `at` until it is moved.
    #[must_use]
    pub fn manual(at: DateTime<Utc>) -> Self {
        Self::Manual(AtomicI64::new(at.timestamp_micros()))
    }

    /// Moves a manual clock forward; the system's clock cannot be moved.
    pub fn advance(&self, by: chrono::Duration) {
        if let Self::Manual(micros) = self {
            micros.fetch_add(by.num_microseconds().unwrap_or(0), Ordering::SeqCst);
        }
    }

    /// The time now, in whole microseconds: what Postgres keeps, so that a digest over it can be verified.
    #[must_use]
    pub fn now(&self) -> DateTime<Utc> {
        let micros = match self {
            Self::System => Utc::now().timestamp_micros(),
            Self::Manual(micros) => micros.load(Ordering::SeqCst),
        };
        DateTime::from_timestamp_micros(micros).unwrap_or_default()
    }
}

/// Where randomness comes from: secrets, salts and the random part of ids.
pub struct Rng(Mutex<State>);

struct State {
    rng: StdRng,
    last_millis: u64,
    counter: u16,
}

impl Rng {
    /// Seeded from the operating system.
    #[must_use]
    pub fn system() -> Self {
        Self::from_rng(rand::make_rng())
    }

    /// Seeded with a number, for tests.
    #[must_use]
    pub fn seeded(seed: u64) -> Self {
        Self::from_rng(StdRng::seed_from_u64(seed))
    }

    fn from_rng(rng: StdRng) -> Self {
        Self(Mutex::new(State { rng, last_millis: 0, counter: 0 }))
    }

    /// Random bytes.
    #[must_use]
    pub fn bytes<const N: usize>(&self) -> [u8; N] {
        let mut bytes = [0; N];
        self.lock().rng.fill_bytes(&mut bytes);
        bytes
    }

    /// A UUIDv7 for the given time. Ids made within one millisecond by one process keep their order: the first
    /// twelve bits after the time are a counter (RFC 9562, section 6.2, method 1).
    #[must_use]
    pub fn id(&self, at: DateTime<Utc>) -> Uuid {
        let millis = u64::try_from(at.timestamp_millis()).unwrap_or(0);
        let mut state = self.lock();
        if millis == state.last_millis {
            state.counter = state.counter.wrapping_add(1) & 0x0fff;
        } else {
            state.last_millis = millis;
            state.counter = 0;
        }
        let mut bytes = [0; 10];
        state.rng.fill_bytes(&mut bytes);
        let [high, low] = state.counter.to_be_bytes();
        bytes[0] = high;
        bytes[1] = low;
        uuid::Builder::from_unix_timestamp_millis(millis, &bytes).into_uuid()
    }

    fn lock(&self) -> std::sync::MutexGuard<'_, State> {
        self.0.lock().unwrap_or_else(std::sync::PoisonError::into_inner)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ids_made_in_one_millisecond_keep_their_order() {
        let rng = Rng::seeded(1);
        let at = Clock::System.now();
        let ids: Vec<Uuid> = (0..1000).map(|_| rng.id(at)).collect();
        assert!(ids.is_sorted());
        assert!(ids.iter().all(|id| id.get_version_num() == 7));
    }

    #[test]
    fn a_manual_clock_moves_only_when_told() {
        let clock = Clock::manual(DateTime::from_timestamp(1_000_000, 0).unwrap());
        let before = clock.now();
        assert_eq!(before, clock.now());
        clock.advance(chrono::Duration::minutes(10));
        assert_eq!(clock.now() - before, chrono::Duration::minutes(10));
    }
}
