//! What was found in a record when it was handed in, as it is stored.
//!
//! Types of their own, apart from `wire`: a change of the API alters no stored finding. Format 1 is the bare list of
//! findings; since format 2 the list stands beside its number.

use recipes::stored::{Format, Turn};
use recipes::{stored_structs, turned_by_from};
use serde::de::Error;
use serde::{Deserialize, Deserializer, Serialize};
use uuid::Uuid;

judgement::stored_words! {
    /// What kind of thing was found.
    Kind as wire::bench::FindingKind {
        /// A weighing outside the tolerance.
        OutOfTolerance = "out_of_tolerance",
        /// A temperature outside the limits of the step.
        Temperature = "temperature",
        /// Not recorded.
        Missing = "missing",
        /// More came out than went in.
        Yield = "yield",
        /// Another pH than the target.
        Ph = "ph",
        /// A lot past its date.
        LotExpired = "lot_expired",
        /// A step done before an earlier one.
        StepOrder = "step_order",
        /// A step done faster than it lasts.
        TooFast = "too_fast",
        /// Less came out than was expected.
        YieldLow = "yield_low",
        /// A check before the start that failed, came late or is not recorded.
        Check = "check",
        /// A hold that nobody has released.
        Hold = "hold",
        /// A deviation without a reason, or one that nobody has authorised.
        Deviation = "deviation",
    }
}

turned_by_from! { Kind as wire::bench::FindingKind }

stored_structs! {
    /// A finding.
    Finding as wire::bench::Finding {
        /// What kind of thing was found.
        kind: Kind,
        /// The line.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        line: Option<String>,
        /// The step, counted from 1.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        step: Option<u32>,
        /// The entry.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        entry: Option<Uuid>,
        /// What was asked, as it was shown.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        asked: Option<String>,
        /// What was recorded, as it was shown.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        recorded: Option<String>,
        /// One sentence that says all of it.
        sentence: String,
        /// Where the tolerance comes from.
        rule: String,
    }
}

/// The findings of a submission.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub(crate) struct Findings {
    format: Format,
    findings: Vec<Finding>,
}

impl From<Vec<wire::bench::Finding>> for Findings {
    fn from(findings: Vec<wire::bench::Finding>) -> Self {
        Self { format: Format::Two, findings: findings.turn() }
    }
}

impl From<Findings> for Vec<wire::bench::Finding> {
    fn from(stored: Findings) -> Self {
        stored.findings.turn()
    }
}

impl<'de> Deserialize<'de> for Findings {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        #[derive(Deserialize)]
        #[serde(untagged)]
        enum Document {
            Numbered { format: u8, findings: Vec<Finding> },
            Bare(Vec<Finding>),
        }
        match Document::deserialize(deserializer)? {
            Document::Numbered { format, findings } => {
                let format = Format::try_from(format).map_err(D::Error::custom)?;
                Ok(Self { format, findings })
            }
            Document::Bare(findings) => Ok(Self { format: Format::One, findings }),
        }
    }
}

#[cfg(test)]
mod tests {
    use serde_json::{Value, json};

    use super::*;

    /// Findings of every kind: from submissions of real runs, the last two in the words of the code of that time.
    const FORMAT_1: &str = include_str!("stored/format_1.json");

    fn travels(stored: Findings) -> Value {
        serde_json::to_value(Vec::<wire::bench::Finding>::from(stored)).unwrap()
    }

    #[test]
    fn findings_of_format_1_are_read_and_travel_as_they_were() {
        let stored: Findings = serde_json::from_str(FORMAT_1).unwrap();
        assert_eq!(stored.format, Format::One);
        assert_eq!(travels(stored), serde_json::from_str::<Value>(FORMAT_1).unwrap());
    }

    #[test]
    fn new_findings_keep_their_format_and_travel_as_before() {
        let found: Vec<wire::bench::Finding> = serde_json::from_str(FORMAT_1).unwrap();
        let written = serde_json::to_string(&Findings::from(found)).unwrap();
        assert!(written.starts_with(r#"{"format":2,"findings":["#));
        let read: Findings = serde_json::from_str(&written).unwrap();
        assert_eq!(travels(read), serde_json::from_str::<Value>(FORMAT_1).unwrap());
    }

    #[test]
    fn findings_of_an_unknown_format_are_refused() {
        assert!(serde_json::from_value::<Findings>(json!({ "format": 3, "findings": [] })).is_err());
    }
}
