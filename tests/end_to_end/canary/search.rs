//! Seeking canaries in a text: words in any case, numbers by value, never as a part of a longer number or an id.

use std::collections::BTreeSet;

/// What is sought.
#[derive(Clone, Default)]
pub(super) struct Sought {
    words: BTreeSet<String>,
    numbers: BTreeSet<String>,
}

impl Sought {
    /// Words, in lower case; and numbers, as they are written without their unit, and as they are rounded for show.
    pub(super) fn new<'a>(
        words: impl IntoIterator<Item = &'a str>,
        numbers: impl IntoIterator<Item = &'a str>,
    ) -> Self {
        let words = words.into_iter().map(str::to_lowercase).collect();
        let numbers = numbers.into_iter().filter_map(number);
        let with_rounded = |number: String| [Some(number.clone()), rounded(&number)];
        let numbers = numbers.flat_map(with_rounded).flatten().collect();
        Self { words, numbers }
    }

    /// With the figures of a text that follow from what was planted: those of five digits and more with a fraction,
    /// which nobody writes by chance.
    pub(super) fn and_figures_of(&mut self, text: &str, but: &BTreeSet<String>) {
        let long = |number: &String| {
            number.contains('.')
                && number.trim_start_matches(['0', '.']).bytes().filter(u8::is_ascii_digit).count() >= 5
        };
        self.numbers.extend(numbers(text).filter(long).filter(|number| !but.contains(number)));
    }

    /// What of it stands in a text.
    pub(super) fn find(&self, text: &str) -> BTreeSet<String> {
        let mut found: BTreeSet<String> =
            numbers(text).filter(|number| self.numbers.contains(number)).collect();
        let lower = text.to_lowercase();
        found.extend(self.words.iter().filter(|word| lower.contains(word.as_str())).cloned());
        // A column of bytes is written in hex.
        found.extend(self.words.iter().filter(|word| lower.contains(&hex(word))).cloned());
        found
    }

    /// How many there are.
    pub(super) fn len(&self) -> usize {
        self.words.len() + self.numbers.len()
    }
}

/// A number to four significant digits, by value, where it still has a fraction: others are written by chance too.
fn rounded(number: &str) -> Option<String> {
    let value: f64 = number.parse().unwrap();
    let before = number.split('.').next().map_or(0, |whole| if whole == "0" { 0 } else { whole.len() });
    let text = format!("{value:.*}", 4_usize.saturating_sub(before));
    self::number(&text).filter(|text| text.contains('.'))
}

fn hex(word: &str) -> String {
    word.bytes().map(|byte| format!("{byte:02x}")).collect()
}

/// The numbers of a text by value: 137.310 is 137.31. By bytes, since there is much to look through.
pub(super) fn numbers(text: &str) -> impl Iterator<Item = String> {
    let between = |byte: &u8| !(byte.is_ascii_alphanumeric() || *byte == b'.');
    text.as_bytes()
        .split(between)
        .filter(|token| token.first().is_some_and(u8::is_ascii_digit))
        .filter_map(|token| number(std::str::from_utf8(token).unwrap()))
}

/// A number, whatever unit is written against it.
fn number(token: &str) -> Option<String> {
    let token = token.trim_matches('.');
    let digits = token.trim_end_matches(|c: char| c.is_ascii_alphabetic());
    let (whole, fraction) = digits.split_once('.').unwrap_or((digits, ""));
    let plain = |part: &str| part.bytes().all(|byte| byte.is_ascii_digit());
    if whole.is_empty() || !plain(whole) || !plain(fraction) || (fraction.is_empty() && token != digits) {
        return None;
    }
    let fraction = fraction.trim_end_matches('0');
    let whole = whole.trim_start_matches('0');
    let whole = if whole.is_empty() { "0" } else { whole };
    Some(if fraction.is_empty() { whole.to_owned() } else { format!("{whole}.{fraction}") })
}

#[test]
fn a_canary_is_found_by_value_and_not_inside_something_else() {
    let sought = Sought::new(["Brindlefax"], ["137.31", "83.170"]);
    let found = |text: &str| sought.find(text).into_iter().collect::<Vec<_>>();
    assert_eq!(found(r#"{"value":"137.310","unit":"g"}"#), ["137.31"]);
    assert_eq!(found("137.31g, then 83.17 mL"), ["137.31", "83.17"]);
    assert_eq!(found("137.3 g and 83.2 g"), ["137.3"]);
    assert_eq!(found("until BRINDLEFAXed"), ["brindlefax"]);
    assert_eq!(found("\\x6272696e646c65666178"), ["brindlefax"]);
    assert_eq!(found("1137.31 137.312 v1.137.31.2 13731 0192d5c8-6f3a-137.31x2"), Vec::<String>::new());
}
