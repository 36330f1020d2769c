//! Figures as the API tells them.

use serde_json::Value;

/// The number of a figure or of an input, exact, a share as a fraction.
#[track_caller]
#[must_use]
pub fn number(figure: &Value) -> f64 {
    let text = figure["exact"].as_str().or_else(|| figure["value"].as_str());
    let number: f64 =
        text.and_then(|text| text.parse().ok()).unwrap_or_else(|| panic!("no number: {figure}"));
    let percent = figure["unit"].as_str().is_some_and(|unit| unit.starts_with('%'));
    if percent { number / 100.0 } else { number }
}

/// Whether a text tells a number, alone, with more decimals or with a unit written against it. Digits within an id are none.
#[must_use]
pub fn tells(text: &str, number: &str) -> bool {
    const UNITS: [&str; 6] = ["", "g", "kg", "mg", "ml", "mL"];
    text.split(|between: char| !(between.is_ascii_alphanumeric() || between == '.'))
        .filter_map(|word| word.strip_prefix(number))
        .any(|rest| rest.starts_with('.') || UNITS.contains(&rest))
}

#[cfg(test)]
mod tests {
    use super::tells;

    #[test]
    fn a_number_is_told_alone_longer_or_with_its_unit_and_not_by_digits_within_an_id() {
        for told in ["60", "of 60 g", "60g", "\"60.5\"", "(60)", "weigh 60."] {
            assert!(tells(told, "60"), "{told}");
        }
        for other in ["160", "60ab-4f", "2060-01", "600", "1.60", "x60"] {
            assert!(!tells(other, "60"), "{other}");
        }
    }
}
