//! Moments in a cohort's time zone: read as the clock on its wall shows them, kept as instants.

use chrono::{DateTime, LocalResult, NaiveDateTime, SecondsFormat, TimeZone, Timelike, Utc};
use chrono_tz::Tz;
use store::{Error, Result};
use wire::teaching::CohortTime;

/// The forms in which a moment without its offset is written.
const FORMS: [&str; 4] = ["%Y-%m-%dT%H:%M", "%Y-%m-%d %H:%M", "%Y-%m-%dT%H:%M:%S", "%Y-%m-%d %H:%M:%S"];

/// The time zone of a cohort, as it is stored.
///
/// # Errors
/// Returns [`Error::Internal`] if this version knows no such time zone.
pub(crate) fn zone(name: &str) -> Result<Tz> {
    name.parse().map_err(|_| Error::internal(format!("the time zone {name:?} of a cohort is not known")))
}

/// Reads a moment. A time that the clock skips is refused; one that it shows twice needs its offset.
///
/// # Errors
/// The fault with its cure, in words.
pub(crate) fn read(text: &str, zone: Tz) -> Result<DateTime<Utc>, String> {
    let text = text.trim();
    if let Ok(with_offset) = DateTime::parse_from_rfc3339(text).or_else(|_| short_with_offset(text)) {
        return with_its_offset(with_offset, zone);
    }
    let wall =
        FORMS.iter().find_map(|form| NaiveDateTime::parse_from_str(text, form).ok()).ok_or_else(|| {
            "Enter a date and a time of day in the cohort's time zone, such as 2026-03-09T09:00.".to_owned()
        })?;
    if wall.nanosecond() != 0 {
        return Err("Enter whole seconds, such as 2026-03-09T09:00:00.".to_owned());
    }
    match zone.from_local_datetime(&wall) {
        LocalResult::Single(at) => Ok(at.with_timezone(&Utc)),
        LocalResult::None => Err(format!(
            "The clocks in {zone} go forward over {wall}, so this time does not exist. Enter an earlier or a later time."
        )),
        LocalResult::Ambiguous(first, second) => Err(format!(
            "The clocks in {zone} go back, so {wall} comes twice. Enter {} or {}.",
            first.to_rfc3339(),
            second.to_rfc3339()
        )),
    }
}

/// An offset after hours and minutes, without seconds.
fn short_with_offset(text: &str) -> chrono::ParseResult<DateTime<chrono::FixedOffset>> {
    DateTime::parse_from_str(text, "%Y-%m-%dT%H:%M%:z")
}

/// The offset must be the one that the zone has at that moment, so that nobody gets another time than they read.
fn with_its_offset(given: DateTime<chrono::FixedOffset>, zone: Tz) -> Result<DateTime<Utc>, String> {
    let local = given.with_timezone(&zone);
    let whole = given.nanosecond() == 0;
    if !whole {
        return Err("Enter whole seconds, such as 2026-03-09T09:00:00.".to_owned());
    }
    if local.naive_local() == given.naive_local() || given.offset().local_minus_utc() == 0 {
        return Ok(given.with_timezone(&Utc));
    }
    Err(format!(
        "The offset is not the one of {zone} at that time. Leave it out, or enter {}.",
        local.to_rfc3339_opts(SecondsFormat::Secs, false)
    ))
}

/// A moment as it is shown.
pub(crate) fn shown(at: DateTime<Utc>, zone: Tz) -> CohortTime {
    CohortTime { local: at.with_timezone(&zone).to_rfc3339_opts(SecondsFormat::Secs, false), at }
}

#[cfg(test)]
mod tests {
    use super::*;

    const BERLIN: Tz = Tz::Europe__Berlin;

    #[test]
    fn a_time_is_the_clocks_on_the_wall_before_and_after_the_change() {
        // In Germany the clocks go forward on 29 March 2026, at 02:00 (directive 2000/84/EC: last Sunday in March, 01:00 UTC).
        let at = |text: &str| read(text, BERLIN).map(|at| at.to_rfc3339());
        assert_eq!(at("2026-03-28T18:00").unwrap(), "2026-03-28T17:00:00+00:00");
        assert_eq!(at("2026-03-29T18:00").unwrap(), "2026-03-29T16:00:00+00:00");
        assert_eq!(at("2026-03-29 18:00:00").unwrap(), "2026-03-29T16:00:00+00:00");
        assert_eq!(at("2026-03-29T16:00:00Z").unwrap(), "2026-03-29T16:00:00+00:00");
        assert!(at("2026-03-29T02:30").unwrap_err().contains("does not exist"));
        // They go back on 25 October 2026, at 03:00.
        let twice = at("2026-10-25T02:30").unwrap_err();
        assert!(twice.contains("2026-10-25T02:30:00+02:00 or 2026-10-25T02:30:00+01:00"), "{twice}");
        assert_eq!(at("2026-10-25T02:30:00+01:00").unwrap(), "2026-10-25T01:30:00+00:00");
        assert_eq!(at("2026-10-25T02:30+02:00").unwrap(), "2026-10-25T00:30:00+00:00");
        assert!(at("2026-10-25T02:30:00+05:00").unwrap_err().contains("offset"));
        assert!(at("soon").is_err());
    }

    #[test]
    fn a_moment_is_shown_with_the_offset_of_its_day() {
        let at = read("2026-03-29T18:00", BERLIN).unwrap();
        assert_eq!(shown(at, BERLIN).local, "2026-03-29T18:00:00+02:00");
    }
}
