//! How often, and after what waits, a transaction is tried again that lost against another.

use std::time::Duration;

use backon::{BackoffBuilder, ExponentialBuilder};

use crate::clock::Rng;

/// How often a transaction is tried again.
const AGAIN: usize = 6;

/// The waits between the tries: each about twice the one before, none the same for two who lost to each other.
pub(crate) fn waits(rng: &Rng) -> impl Iterator<Item = Duration> + use<> {
    ExponentialBuilder::default()
        .with_min_delay(Duration::from_millis(4))
        .with_max_delay(Duration::from_millis(250))
        .with_max_times(AGAIN)
        .with_jitter()
        .with_jitter_seed(u64::from_be_bytes(rng.bytes()))
        .build()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_waits_are_few_short_and_different_for_each() {
        let rng = Rng::seeded(7);
        let (one, other): (Vec<_>, Vec<_>) = (waits(&rng).collect(), waits(&rng).collect());
        assert_eq!(one.len(), AGAIN);
        assert_ne!(one, other);
        assert!(one.iter().sum::<Duration>() < Duration::from_secs(1), "{one:?}");
    }
}
