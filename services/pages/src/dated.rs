//! A use-by date as people read it.

use wire::calculations::use_by::UseByAnswer;

use crate::figures::{Sum, why};
use crate::frame::Frame;
use crate::texts::{t, t1};

/// A date in words, why it is that, and the sums behind it.
pub(crate) struct Date {
    pub(crate) value: String,
    pub(crate) sentence: String,
    pub(crate) why: Vec<Sum>,
}

/// A use-by date in words, with what every rule said.
pub(crate) fn date(frame: &Frame, use_by: &UseByAnswer) -> Date {
    let value = match use_by.date {
        Some(day) if use_by.refrigerate => t1("date-cold", frame.day(&day)),
        Some(day) => frame.day(&day),
        None => t("no-date"),
    };
    let sentence =
        use_by.limited_by.as_ref().map(|rule| t1("date-limited", rule.clone())).unwrap_or_default();
    Date { value, sentence, why: use_by.figures.iter().flat_map(why).collect() }
}
