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
