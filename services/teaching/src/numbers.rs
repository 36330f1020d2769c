//! The numbers of one student's question, drawn from the assignment's secret: always the same for the same student, and not
//! to be guessed by another.

use hmac::{Hmac, KeyInit, Mac};
use sha2::Sha256;
use store::{Error, Result};
use uuid::Uuid;

/// A row of numbers. Each is the HMAC-SHA-256 of who draws it and its place in the row, under the assignment's secret.
pub(crate) struct Draw {
    keyed: Hmac<Sha256>,
    place: u64,
}

impl Draw {
    /// The row of a student for a question; `round` counts the times that an earlier row could not be used.
    ///
    /// # Errors
    /// Returns [`Error::Internal`] if the secret cannot be a key.
    pub(crate) fn new(secret: &[u8], person: Uuid, position: i16, round: u32) -> Result<Self> {
        let mut keyed = Hmac::<Sha256>::new_from_slice(secret)
            .map_err(|_| Error::internal("the secret of an assignment is no key"))?;
        keyed.update(person.as_bytes());
        keyed.update(&position.to_be_bytes());
        keyed.update(&round.to_be_bytes());
        Ok(Self { keyed, place: 0 })
    }

    /// The next number, below `many`; 0 where there is none below it.
    pub(crate) fn below(&mut self, many: u64) -> u64 {
        let mut keyed = self.keyed.clone();
        keyed.update(&self.place.to_be_bytes());
        self.place += 1;
        let bytes: [u8; 32] = keyed.finalize().into_bytes().into();
        let first = bytes.iter().take(8).fold(0_u64, |sum, byte| (sum << 8) | u64::from(*byte));
        // Of 2^64 numbers so few are above the last whole multiple that nobody meets one.
        first.checked_rem(many).unwrap_or_default()
    }

    /// The next number of `low`, `low + step`, and so on up to `high`.
    pub(crate) fn of(&mut self, low: u32, high: u32, step: u32) -> u32 {
        let many = high.saturating_sub(low).checked_div(step).unwrap_or_default() + 1;
        let place = u32::try_from(self.below(many.into())).unwrap_or_default();
        low + place * step
    }

    /// One of several.
    pub(crate) fn one<'a, T>(&mut self, of: &'a [T]) -> Option<&'a T> {
        let many = u64::try_from(of.len()).ok()?;
        of.get(usize::try_from(self.below(many)).ok()?)
    }

    /// The same things in another order.
    pub(crate) fn shuffled<T>(&mut self, mut of: Vec<T>) -> Vec<T> {
        let mut shuffled = Vec::with_capacity(of.len());
        while !of.is_empty() {
            let many = u64::try_from(of.len()).unwrap_or(1);
            let place = usize::try_from(self.below(many)).unwrap_or_default();
            shuffled.push(of.swap_remove(place));
        }
        shuffled
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn row(person: u128, position: i16, round: u32) -> Vec<u32> {
        let mut draw = Draw::new(&[7; 32], Uuid::from_u128(person), position, round).unwrap();
        (0..8).map(|_| draw.of(0, 1000, 1)).collect()
    }

    #[test]
    fn a_row_is_the_same_every_time_and_differs_by_student_question_and_round() {
        assert_eq!(row(1, 1, 0), row(1, 1, 0));
        for other in [row(2, 1, 0), row(1, 2, 0), row(1, 1, 1)] {
            assert_ne!(row(1, 1, 0), other);
        }
        let mut secret = Draw::new(&[8; 32], Uuid::from_u128(1), 1, 0).unwrap();
        assert_ne!(row(1, 1, 0), (0..8).map(|_| secret.of(0, 1000, 1)).collect::<Vec<_>>());
    }

    #[test]
    fn numbers_stay_within_their_bounds_and_on_their_steps() {
        let mut draw = Draw::new(&[7; 32], Uuid::nil(), 1, 0).unwrap();
        for _ in 0..1000 {
            let number = draw.of(15, 120, 5);
            assert!((15..=120).contains(&number) && number.is_multiple_of(5), "{number}");
        }
        assert_eq!(draw.of(3, 3, 1), 3);
        let mut shuffled = draw.shuffled(vec![1, 2, 3, 4]);
        shuffled.sort_unstable();
        assert_eq!(shuffled, [1, 2, 3, 4]);
    }
}
