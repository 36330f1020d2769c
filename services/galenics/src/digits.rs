//! Decimals as text. The text is that of [`Decimal`] without trailing zeros, written two digits at a time: its own way
//! divides 96 bits once for every digit, which was most of the cost of turning an evaluation into JSON.

use std::fmt;

use rust_decimal::{Decimal, RoundingStrategy};

/// A decimal to so many significant digits, halves away from zero, in its own slower way.
fn significant(value: Decimal, digits: u32) -> Decimal {
    value.round_sf_with_strategy(digits, RoundingStrategy::MidpointAwayFromZero).unwrap_or(value)
}

/// Digits of the largest decimal.
const MOST: usize = 29;

/// The largest mantissa that is certain to stay a decimal when it is rounded up or shifted by two places.
const ROOM: u128 = 10_u128.pow(26);

/// Digits that are written at once.
const HALF: u64 = 10_u64.pow(18);

/// "00" to "99".
const PAIRS: [[u8; 2]; 100] = {
    let mut pairs = [[b'0'; 2]; 100];
    let (mut at, mut high, mut low) = (0, b'0', b'0');
    while at < 100 {
        pairs[at] = [high, low];
        low += 1;
        if low > b'9' {
            low = b'0';
            high += 1;
        }
        at += 1;
    }
    pairs
};

/// Room for the digits, a point, a zero before it and a sign.
const ROOM_FOR_TEXT: usize = MOST + 3;

/// What becomes of a half when digits are cut off.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Halves {
    AwayFromZero,
    ToEven,
}

/// A decimal as text without trailing zeros.
pub(crate) struct Digits {
    /// Right-aligned; what stands before the first digit is zeros.
    text: [u8; ROOM_FOR_TEXT],
    from: usize,
    to: usize,
    /// How many digits follow the point.
    decimals: usize,
}

impl Digits {
    /// The number itself.
    pub(crate) fn of(value: Decimal) -> Self {
        Self::all_of(value.mantissa().unsigned_abs(), value).point(value)
    }

    /// The number to `digits` significant digits.
    pub(crate) fn significant(value: Decimal, digits: u8, halves: Halves) -> Self {
        let mantissa = value.mantissa().unsigned_abs();
        if mantissa >= ROOM {
            let rounded = match halves {
                Halves::AwayFromZero => significant(value, digits.into()),
                Halves::ToEven => value.round_sf(digits.into()).unwrap_or(value),
            };
            return Self::of(rounded);
        }
        let mut written = Self::all_of(mantissa, value);
        written.round(digits.into(), halves);
        written.point(value)
    }

    /// The number, or a hundred times it, to `digits` significant digits, and none before the point changed by
    /// rounding to fewer: 12345.67 is 12346. Halves away from zero.
    pub(crate) fn for_show(value: Decimal, percent: bool, digits: u8) -> Self {
        let mantissa = value.mantissa().unsigned_abs();
        if mantissa >= ROOM || (percent && value.scale() < 2) {
            let value =
                if percent { value.checked_mul(Decimal::ONE_HUNDRED).unwrap_or(value) } else { value };
            let whole = value.trunc().mantissa().unsigned_abs().checked_ilog10().map_or(0, |log| log + 1);
            return Self::of(significant(value, whole.max(digits.into())));
        }
        let mut written = Self::all_of(mantissa, value);
        written.decimals -= if percent { 2 } else { 0 };
        let whole = (written.to - written.from).saturating_sub(written.decimals);
        written.round(whole.max(digits.into()), Halves::AwayFromZero);
        written.point(value)
    }

    /// The text.
    pub(crate) fn as_str(&self) -> &str {
        // They are digits, a point and a sign.
        str::from_utf8(&self.text[self.from..self.to]).unwrap_or_default()
    }

    fn all_of(mantissa: u128, value: Decimal) -> Self {
        let decimals = usize::try_from(value.scale()).unwrap_or_default();
        let mut written =
            Self { text: [b'0'; ROOM_FOR_TEXT], from: ROOM_FOR_TEXT, to: ROOM_FOR_TEXT, decimals };
        match u64::try_from(mantissa) {
            Ok(mantissa) => written.put(mantissa),
            Err(_) => {
                let high = mantissa / u128::from(HALF);
                let low = mantissa - high * u128::from(HALF);
                written.put(u64::try_from(low).unwrap_or_default());
                written.from = ROOM_FOR_TEXT - 18;
                written.put(u64::try_from(high).unwrap_or_default());
            }
        }
        written
    }

    /// Writes a number before what is there.
    fn put(&mut self, mut number: u64) {
        let pair = |number: u64| PAIRS[usize::try_from(number).unwrap_or_default() % 100];
        while number >= 100 {
            self.from -= 2;
            self.text[self.from..self.from + 2].copy_from_slice(&pair(number % 100));
            number /= 100;
        }
        if number > 0 {
            let [high, low] = pair(number);
            self.from -= 1;
            self.text[self.from] = low;
            if number >= 10 {
                self.from -= 1;
                self.text[self.from] = high;
            }
        }
    }

    fn round(&mut self, digits: usize, halves: Halves) {
        let end = self.from + digits;
        if end >= self.to {
            return;
        }
        let exactly_half =
            || self.text[end] == b'5' && self.text[end + 1..self.to].iter().all(|it| *it == b'0');
        let even = end == self.from || self.text[end - 1].is_multiple_of(2);
        let up = self.text[end] >= b'5' && !(halves == Halves::ToEven && even && exactly_half());
        self.text[end..self.to].fill(b'0');
        if up {
            let mut at = end;
            while at > self.from && self.text[at - 1] == b'9' {
                at -= 1;
                self.text[at] = b'0';
            }
            if at > self.from {
                self.text[at - 1] += 1;
            } else {
                // What is rounded has room for one more.
                self.from -= 1;
                self.text[self.from] = b'1';
            }
        }
    }

    /// Leaves the trailing zeros out and puts point and sign in.
    fn point(mut self, value: Decimal) -> Self {
        let nothing = self.from == self.to;
        while self.decimals > 0 && (nothing || self.text[self.to - 1] == b'0') {
            self.decimals -= 1;
            self.to -= usize::from(!nothing);
        }
        if self.decimals > 0 {
            // What is before the point makes room for it; it is the shorter part of most numbers.
            let point = self.to - self.decimals;
            self.from = self.from.min(point);
            self.text.copy_within(self.from..point, self.from - 1);
            self.from -= 1;
            self.text[point - 1] = b'.';
            if self.from == point - 1 {
                self.from -= 1;
                self.text[self.from] = b'0';
            }
        } else if nothing {
            self.from -= 1;
        }
        if value.is_sign_negative() && !nothing {
            self.from -= 1;
            self.text[self.from] = b'-';
        }
        self
    }
}

impl fmt::Display for Digits {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.as_str())
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn any_decimal() -> impl Strategy<Value = Decimal> {
        prop_oneof![
            (any::<u32>(), any::<u32>(), any::<u32>(), any::<bool>(), 0_u32..=28)
                .prop_map(|(lo, mid, hi, negative, scale)| Decimal::from_parts(lo, mid, hi, negative, scale)),
            (any::<u32>(), any::<u32>(), 0_u32..=28)
                .prop_map(|(lo, mid, scale)| Decimal::from_parts(lo, mid, 0, false, scale)),
            (0_i64..100_000, 0_u32..=28, 0_u32..=18).prop_map(|(digits, scale, zeros)| {
                Decimal::try_from_i128_with_scale(i128::from(digits) * 10_i128.pow(zeros), scale).unwrap()
            }),
            (
                prop::sample::select(vec![999_999_i64, 9_999_995, 99_999_949, 1_000_005, 12_345_650]),
                0_u32..=28
            )
                .prop_map(|(digits, scale)| Decimal::new(digits, scale)),
            Just(Decimal::MAX),
            Just(Decimal::MIN),
            Just(Decimal::ZERO),
            Just(-Decimal::ZERO),
        ]
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(4096))]
        #[test]
        fn the_text_is_that_of_the_decimal(value in any_decimal()) {
            prop_assert_eq!(Digits::of(value).to_string(), value.normalize().to_string());
            for digits in [1, 4, 6, 12] {
                let rounded = significant(value, digits.into()).normalize();
                prop_assert_eq!(Digits::significant(value, digits, Halves::AwayFromZero).to_string(), rounded.to_string());
                let even = value.round_sf(digits.into()).unwrap_or(value).normalize();
                prop_assert_eq!(Digits::significant(value, digits, Halves::ToEven).to_string(), even.to_string());
                let hundredfold = value.checked_mul(Decimal::ONE_HUNDRED).unwrap_or(value);
                for (of, percent) in [(value, false), (hundredfold, true)] {
                    let places = if of.trunc().is_zero() { 0 } else { of.trunc().abs().to_string().len() };
                    let rounded = significant(of, u32::from(digits).max(places.try_into().unwrap())).normalize();
                    prop_assert_eq!(Digits::for_show(value, percent, digits).to_string(), rounded.to_string());
                }
            }
        }
    }
}
