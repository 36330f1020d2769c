//! Decimals as text. The text is that of [`Decimal`] without trailing zeros, written two digits at a time: its own way
//! divides 96 bits once for every digit, which was most of the cost of turning an evaluation into JSON.

use std::fmt;

use rust_decimal::Decimal;

use crate::number::significant;

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

/// A decimal as text without trailing zeros: its digits, and how many of them follow the point.
pub(crate) struct Digits {
    digits: [u8; MOST],
    /// Where the digits begin.
    from: usize,
    /// Where they end.
    to: usize,
    /// How many follow the point.
    decimals: usize,
    negative: bool,
}

impl Digits {
    /// The number itself.
    pub(crate) fn of(value: Decimal) -> Self {
        let mut written = Self::all_of(value.mantissa().unsigned_abs(), value);
        written.trim();
        written
    }

    /// The number to `digits` significant digits, halves away from zero.
    pub(crate) fn significant(value: Decimal, digits: u8) -> Self {
        let mantissa = value.mantissa().unsigned_abs();
        if mantissa >= ROOM {
            return Self::of(significant(value, digits.into()));
        }
        let mut written = Self::all_of(mantissa, value);
        written.round(digits.into());
        written.trim();
        written
    }

    /// A hundred times the number, to `digits` significant digits.
    pub(crate) fn percent(value: Decimal, digits: u8) -> Self {
        let mantissa = value.mantissa().unsigned_abs();
        if mantissa >= ROOM || value.scale() < 2 {
            let percent = value.checked_mul(Decimal::ONE_HUNDRED).unwrap_or(value);
            return Self::of(significant(percent, digits.into()));
        }
        let mut written = Self::all_of(mantissa, value);
        written.decimals -= 2;
        written.round(digits.into());
        written.trim();
        written
    }

    fn all_of(mantissa: u128, value: Decimal) -> Self {
        let decimals = usize::try_from(value.scale()).unwrap_or_default();
        let negative = value.is_sign_negative() && mantissa != 0;
        let mut written = Self { digits: [b'0'; MOST], from: MOST, to: MOST, decimals, negative };
        match u64::try_from(mantissa) {
            Ok(mantissa) => written.put(mantissa),
            Err(_) => {
                let high = mantissa / u128::from(HALF);
                let low = mantissa - high * u128::from(HALF);
                written.put(u64::try_from(low).unwrap_or_default());
                written.from = MOST - 18;
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
            self.digits[self.from..self.from + 2].copy_from_slice(&pair(number % 100));
            number /= 100;
        }
        if number > 0 {
            let [high, low] = pair(number);
            self.from -= 1;
            self.digits[self.from] = low;
            if number >= 10 {
                self.from -= 1;
                self.digits[self.from] = high;
            }
        }
    }

    fn round(&mut self, digits: usize) {
        let end = self.from + digits;
        if end >= self.to {
            return;
        }
        let up = self.digits[end] >= b'5';
        let gone = self.to - end;
        if gone <= self.decimals {
            self.decimals -= gone;
            self.to = end;
        } else {
            self.digits[end..self.to].fill(b'0');
            self.to -= self.decimals;
            self.decimals = 0;
        }
        if up {
            let mut at = end;
            while at > self.from && self.digits[at - 1] == b'9' {
                at -= 1;
                self.digits[at] = b'0';
            }
            if at > self.from {
                self.digits[at - 1] += 1;
            } else {
                // What is rounded has room for one more.
                self.from -= 1;
                self.digits[self.from] = b'1';
            }
        }
    }

    fn trim(&mut self) {
        while self.decimals > 0 && self.to > self.from && self.digits[self.to - 1] == b'0' {
            self.decimals -= 1;
            self.to -= 1;
        }
        if self.from == self.to {
            self.decimals = 0;
        }
    }

    /// Writes the text.
    pub(crate) fn text(&self) -> Written {
        let mut text = Written { bytes: [b'0'; MOST + 3], length: 0 };
        let digits = &self.digits[self.from..self.to];
        let (whole, decimals) = digits.split_at(digits.len().saturating_sub(self.decimals));
        if self.negative {
            text.push(b"-");
        }
        text.push(if whole.is_empty() { b"0" } else { whole });
        if self.decimals > 0 {
            text.push(b".");
            text.length += self.decimals - decimals.len();
            text.push(decimals);
        }
        text
    }
}

/// A decimal as text.
pub(crate) struct Written {
    bytes: [u8; MOST + 3],
    length: usize,
}

impl Written {
    fn push(&mut self, more: &[u8]) {
        self.bytes[self.length..self.length + more.len()].copy_from_slice(more);
        self.length += more.len();
    }

    pub(crate) fn as_str(&self) -> &str {
        // They are digits, a point and a sign.
        str::from_utf8(&self.bytes[..self.length]).unwrap_or_default()
    }
}

impl fmt::Display for Digits {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.text().as_str())
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::number::HUNDRED;

    fn any_decimal() -> impl Strategy<Value = Decimal> {
        prop_oneof![
            (any::<u32>(), any::<u32>(), any::<u32>(), any::<bool>(), 0_u32..=28)
                .prop_map(|(lo, mid, hi, negative, scale)| Decimal::from_parts(lo, mid, hi, negative, scale)),
            (any::<u32>(), any::<u32>(), 0_u32..=28)
                .prop_map(|(lo, mid, scale)| Decimal::from_parts(lo, mid, 0, false, scale)),
            (0_i64..100_000, 0_u32..=28, 0_u32..=18).prop_map(|(digits, scale, zeros)| {
                Decimal::try_from_i128_with_scale(i128::from(digits) * 10_i128.pow(zeros), scale).unwrap()
            }),
            (prop::sample::select(vec![999_999_i64, 9_999_995, 99_999_949, 1_000_005, 12_345_650]), 0_u32..=28)
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
                let rounded = significant(value, digits.into());
                prop_assert_eq!(Digits::significant(value, digits).to_string(), rounded.to_string());
                let percent = value.checked_mul(HUNDRED).unwrap_or(value);
                let percent = significant(percent, digits.into());
                prop_assert_eq!(Digits::percent(value, digits).to_string(), percent.to_string());
            }
        }
    }
}
