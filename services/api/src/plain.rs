//! Messages of the parsers of bodies, queries and addresses, as sentences with the remedy.
//!
//! The parsers address programmers ("premature end of input"); the person who typed a date is told how to write one.

/// How to write an ID.
pub(crate) const ID: &str =
    "The ID is invalid. Use the UUID from a response, such as 01a21363-6f3a-7c41-9a3e-5b1d2f4c6e80.";
const DAY: &str = "The value is not a date. Send a date, such as 2026-03-21.";
const MOMENT: &str =
    "The value is not a date and time. Send one with an offset, such as 2026-03-21T09:00:00Z.";

/// A parser's message about the field of this name, as a sentence. An unknown message is returned unchanged.
pub(crate) fn sentence(said: &str, field: &str) -> String {
    words(said).or_else(|| number(said)).or_else(|| written(said, field)).unwrap_or_else(|| said.to_owned())
}

/// The field that a message names: unknown, missing, or sent twice.
pub(crate) fn named(said: &str) -> Option<&str> {
    ["unknown field `", "duplicate field `", "missing field `"]
        .iter()
        .find_map(|beginning| said.strip_prefix(beginning)?.split('`').next())
}

/// Unknown fields and words, and fields that are missing or sent twice.
fn words(said: &str) -> Option<String> {
    if said.starts_with("missing field `") {
        return Some("This field is required.".into());
    }
    if said.starts_with("duplicate field `") {
        return Some("This field is sent twice. Send it once.".into());
    }
    if said.starts_with("unknown field `") {
        // The accepted names come last: the text that was sent may contain anything.
        return Some(match said.rsplit_once("`, expected ") {
            Some((_, accepted)) => format!("Unknown field. Accepted fields: {}.", listed(accepted)),
            None => "Unknown field. Remove it.".into(),
        });
    }
    let (sent, accepted) = said.strip_prefix("unknown variant `")?.rsplit_once("`, expected ")?;
    Some(format!("{sent:?} is not accepted. Send one of: {}.", listed(accepted)))
}

/// The names between backticks.
fn listed(accepted: &str) -> String {
    let names: Vec<&str> = accepted.split('`').skip(1).step_by(2).collect();
    names.join(", ")
}

/// Numbers in a query.
fn number(said: &str) -> Option<String> {
    let cure = match said {
        "invalid digit found in string" => "The value is not a whole number. Send digits only, such as 12.",
        "cannot parse integer from empty string" => {
            "The value is empty. Enter a whole number, such as 12, or omit the field."
        }
        "number too large to fit in target type" => {
            "The number is too large. Send a whole number from 0 to 4294967295."
        }
        "provided string was not `true` or `false`" => "The value is not true or false. Send true or false.",
        _ => return None,
    };
    Some(cure.into())
}

/// Dates, times, IDs, and JSON values of the wrong type.
fn written(said: &str, field: &str) -> Option<String> {
    // chrono's messages do not say whether a date or a time was expected; the field's name does.
    const DATES: [&str; 6] = [
        "input contains invalid characters",
        "premature end of input",
        "trailing input",
        "input is out of range",
        "no possible date and time matching input",
        "input is not enough for unique date and time",
    ];
    if DATES.contains(&said) {
        let moment = ["_at", "_until"].iter().any(|ending| field.ends_with(ending));
        return Some(if moment { MOMENT } else { DAY }.into());
    }
    if said.starts_with("UUID parsing failed") {
        return Some(ID.into());
    }
    if said == "expected value" {
        return Some("The value is not a word. Send one word in double quotes.".into());
    }
    if !said.starts_with("invalid ") {
        return None;
    }
    let (_, wanted) = said.rsplit_once(", expected ")?;
    Some(match wanted {
        "a string" => "The value is not text. Send text in double quotes.".into(),
        "a boolean" => "The value is not true or false. Send true or false without quotes.".into(),
        "a sequence" => "The value is not a list. Send a list in square brackets.".into(),
        "a map" => "The value is not an object. Send an object in braces.".into(),
        "f32" | "f64" => "The value is not a number. Send a number without quotes.".into(),
        "u8" => whole(u8::MAX.into()),
        "u16" => whole(u16::MAX.into()),
        "u32" => whole(u32::MAX.into()),
        "u64" | "i64" | "i32" => {
            "The value is not a whole number. Send a whole number without quotes.".into()
        }
        "a formatted date string" => DAY.into(),
        "an RFC 3339 formatted date and time string" => MOMENT.into(),
        _ if wanted.starts_with("struct ") => {
            "The value is not an object. Send an object in braces, each field by its name.".into()
        }
        _ if wanted.to_lowercase().contains("uuid") => ID.into(),
        _ => return None,
    })
}

fn whole(most: u64) -> String {
    format!("The value is not a whole number from 0 to {most}. Send one without quotes, such as 12.")
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeMap;
    use std::fmt::Debug;

    use chrono::{DateTime, NaiveDate, Utc};
    use serde::Deserialize;
    use serde::de::DeserializeOwned;

    use super::*;

    #[derive(Debug, Deserialize)]
    #[serde(deny_unknown_fields)]
    #[expect(dead_code, reason = "only read")]
    struct Form {
        day: Option<NaiveDate>,
        moment_at: Option<DateTime<Utc>>,
        id: Option<uuid::Uuid>,
        count: Option<u32>,
        yes: Option<bool>,
    }

    #[derive(Debug, Deserialize)]
    #[serde(rename_all = "snake_case")]
    enum Word {
        Oil,
        Wax,
    }

    /// The message about a JSON value.
    fn json<T: DeserializeOwned + Debug>(text: &str) -> String {
        let said = serde_json::from_str::<T>(text).unwrap_err().to_string();
        sentence(said.split(" at line ").next().unwrap(), "made_on")
    }

    #[test]
    fn a_body_error_becomes_a_sentence_with_its_remedy() {
        const LIST: &str = "The value is not a list. Send a list in square brackets.";
        const WHOLE: &str =
            "The value is not a whole number from 0 to 65535. Send one without quotes, such as 12.";
        const OBJECT: &str = "The value is not an object. Send an object in braces, each field by its name.";
        let cases: [(String, &str); 21] = [
            (json::<Vec<String>>(r#""pregnant""#), LIST),
            (json::<u16>("-1"), WHOLE),
            (json::<u16>("70000"), WHOLE),
            (json::<u16>("1.5"), WHOLE),
            (json::<u16>(r#""1""#), WHOLE),
            (json::<String>("5"), "The value is not text. Send text in double quotes."),
            (json::<String>(r#"["a, expected u16"]"#), "The value is not text. Send text in double quotes."),
            (json::<bool>(r#""yes""#), "The value is not true or false. Send true or false without quotes."),
            (json::<BTreeMap<String, u8>>("[]"), "The value is not an object. Send an object in braces."),
            (json::<wire::bench::NewBatch>("[]"), OBJECT),
            (json::<wire::bench::NewBatch>("7"), OBJECT),
            (json::<wire::bench::NewBatch>("{}"), "This field is required."),
            (json::<NaiveDate>("5"), DAY),
            (json::<NaiveDate>(r#""21.3.2026""#), DAY),
            (json::<NaiveDate>(r#""2026-02-30""#), DAY),
            (json::<DateTime<Utc>>("5"), MOMENT),
            (json::<wire::ids::BatchId>("5"), ID),
            (json::<wire::ids::BatchId>(r#""<approved_revision>""#), ID),
            (
                json::<Word>(r#""tallow`, expected `x""#),
                r#""tallow`, expected `x" is not accepted. Send one of: oil, wax."#,
            ),
            (json::<Word>("5"), "The value is not a word. Send one word in double quotes."),
            (
                json::<Form>(r#"{"a`b": 1}"#),
                "Unknown field. Accepted fields: day, moment_at, id, count, yes.",
            ),
        ];
        for (number, (said, plain)) in cases.iter().enumerate() {
            assert_eq!(said, plain, "{number}");
        }
    }

    #[test]
    fn a_query_error_becomes_a_sentence_with_its_remedy() {
        let cases = [
            ("day=yesterday", "day", DAY),
            ("day=2026-03", "day", DAY),
            ("day=2026-03-21T09:00", "day", DAY),
            ("day=", "day", DAY),
            ("moment_at=2026-03-21", "moment_at", MOMENT),
            ("id=mine", "id", ID),
            ("count=1.5", "count", "The value is not a whole number. Send digits only, such as 12."),
            ("count=-1", "count", "The value is not a whole number. Send digits only, such as 12."),
            ("count=ten", "count", "The value is not a whole number. Send digits only, such as 12."),
            ("count=", "count", "The value is empty. Enter a whole number, such as 12, or omit the field."),
            (
                "count=99999999999",
                "count",
                "The number is too large. Send a whole number from 0 to 4294967295.",
            ),
            ("yes=perhaps", "yes", "The value is not true or false. Send true or false."),
            ("count=1&count=2", "count", "This field is sent twice. Send it once."),
            ("other=1", "other", "Unknown field. Accepted fields: day, moment_at, id, count, yes."),
        ];
        for (query, field, plain) in cases {
            let said = serde_urlencoded::from_str::<Form>(query).unwrap_err().to_string();
            assert_eq!(sentence(&said, field), plain, "{query}: {said}");
        }
        assert_eq!(sentence("name exactly one question of: a", "x"), "name exactly one question of: a");
    }
}
