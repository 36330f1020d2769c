//! What the parsers of bodies, queries and addresses say, in plain sentences with the cure.
//!
//! They speak to programmers ("premature end of input"); whoever typed a day or an amount is told how it is written.

/// How an id is written.
pub(crate) const ID: &str =
    "an id looks like 01a21363-6f3a-7c41-9a3e-5b1d2f4c6e80: copy it from the answer that named it";
const DAY: &str = "a day is written like 2026-03-21";
const MOMENT: &str = "a moment is written like 2026-03-21T09:00:00Z";

/// A parser's complaint about the field with this name, as a sentence. What is not known is passed on as it is.
pub(crate) fn sentence(said: &str, field: &str) -> String {
    words(said).or_else(|| number(said)).or_else(|| written(said, field)).unwrap_or_else(|| said.to_owned())
}

/// The field that a complaint names itself: one that is unknown, missing, or sent twice.
pub(crate) fn named(said: &str) -> Option<&str> {
    ["unknown field `", "duplicate field `", "missing field `"]
        .iter()
        .find_map(|beginning| said.strip_prefix(beginning)?.split('`').next())
}

/// Of what is not one of the names that are accepted, and of fields that are missing or sent twice.
fn words(said: &str) -> Option<String> {
    if said.starts_with("missing field `") {
        return Some("this field is needed".into());
    }
    if said.starts_with("duplicate field `") {
        return Some("this field is sent twice: send it once".into());
    }
    if said.starts_with("unknown field `") {
        // The names that are accepted come last: what was sent may hold anything.
        return Some(match said.rsplit_once("`, expected ") {
            Some((_, accepted)) => format!("unknown field: it can only be {}", listed(accepted)),
            None => "unknown field: leave it out".into(),
        });
    }
    let (sent, accepted) = said.strip_prefix("unknown variant `")?.rsplit_once("`, expected ")?;
    Some(format!("{sent:?} is not one of: {}", listed(accepted)))
}

/// The names between backticks.
fn listed(accepted: &str) -> String {
    let names: Vec<&str> = accepted.split('`').skip(1).step_by(2).collect();
    names.join(", ")
}

/// Of numbers in a query.
fn number(said: &str) -> Option<String> {
    let cure = match said {
        "invalid digit found in string" => "a whole number is needed here, in digits alone, such as 12",
        "cannot parse integer from empty string" => {
            "nothing stands here: write a whole number such as 12, or leave it out"
        }
        "number too large to fit in target type" => {
            "this number is too large: a whole number from 0 to 4294967295"
        }
        "provided string was not `true` or `false`" => "write true or false",
        _ => return None,
    };
    Some(cure.into())
}

/// Of days, moments, ids, and of one kind of value where another is needed.
fn written(said: &str, field: &str) -> Option<String> {
    // What chrono says of a text that is no day or moment; it does not say which was wanted, but the names do.
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
        return Some("one word in double quotes is needed here".into());
    }
    if !said.starts_with("invalid ") {
        return None;
    }
    let (_, wanted) = said.rsplit_once(", expected ")?;
    Some(match wanted {
        "a string" => "text in double quotes is needed here".into(),
        "a boolean" => "true or false is needed here, without quotes".into(),
        "a sequence" => "a list in square brackets is needed here".into(),
        "a map" => "an object in braces is needed here".into(),
        "f32" | "f64" => "a number is needed here, without quotes".into(),
        "u8" => whole(u8::MAX.into()),
        "u16" => whole(u16::MAX.into()),
        "u32" => whole(u32::MAX.into()),
        "u64" | "i64" | "i32" => "a whole number is needed here, without quotes".into(),
        "a formatted date string" => DAY.into(),
        "an RFC 3339 formatted date and time string" => MOMENT.into(),
        _ if wanted.starts_with("struct ") => {
            "an object in braces is needed here, each of its fields by its name".into()
        }
        _ if wanted.to_lowercase().contains("uuid") => ID.into(),
        _ => return None,
    })
}

fn whole(most: u64) -> String {
    format!("a whole number from 0 to {most} is needed here, without quotes")
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

    /// What is said of a JSON value.
    fn json<T: DeserializeOwned + Debug>(text: &str) -> String {
        let said = serde_json::from_str::<T>(text).unwrap_err().to_string();
        sentence(said.split(" at line ").next().unwrap(), "made_on")
    }

    #[test]
    fn what_is_said_of_bodies_is_plain() {
        const LIST: &str = "a list in square brackets is needed here";
        const WHOLE: &str = "a whole number from 0 to 65535 is needed here, without quotes";
        const OBJECT: &str = "an object in braces is needed here, each of its fields by its name";
        let cases: [(String, &str); 21] = [
            (json::<Vec<String>>(r#""pregnant""#), LIST),
            (json::<u16>("-1"), WHOLE),
            (json::<u16>("70000"), WHOLE),
            (json::<u16>("1.5"), WHOLE),
            (json::<u16>(r#""1""#), WHOLE),
            (json::<String>("5"), "text in double quotes is needed here"),
            (json::<String>(r#"["a, expected u16"]"#), "text in double quotes is needed here"),
            (json::<bool>(r#""yes""#), "true or false is needed here, without quotes"),
            (json::<BTreeMap<String, u8>>("[]"), "an object in braces is needed here"),
            (json::<wire::bench::NewBatch>("[]"), OBJECT),
            (json::<wire::bench::NewBatch>("7"), OBJECT),
            (json::<wire::bench::NewBatch>("{}"), "this field is needed"),
            (json::<NaiveDate>("5"), DAY),
            (json::<NaiveDate>(r#""21.3.2026""#), DAY),
            (json::<NaiveDate>(r#""2026-02-30""#), DAY),
            (json::<DateTime<Utc>>("5"), MOMENT),
            (json::<wire::ids::BatchId>("5"), ID),
            (json::<wire::ids::BatchId>(r#""<approved_revision>""#), ID),
            (json::<Word>(r#""tallow`, expected `x""#), r#""tallow`, expected `x" is not one of: oil, wax"#),
            (json::<Word>("5"), "one word in double quotes is needed here"),
            (json::<Form>(r#"{"a`b": 1}"#), "unknown field: it can only be day, moment_at, id, count, yes"),
        ];
        for (number, (said, plain)) in cases.iter().enumerate() {
            assert_eq!(said, plain, "{number}");
        }
    }

    #[test]
    fn what_is_said_of_queries_is_plain() {
        let cases = [
            ("day=yesterday", "day", DAY),
            ("day=2026-03", "day", DAY),
            ("day=2026-03-21T09:00", "day", DAY),
            ("day=", "day", DAY),
            ("moment_at=2026-03-21", "moment_at", MOMENT),
            ("id=mine", "id", ID),
            ("count=1.5", "count", "a whole number is needed here, in digits alone, such as 12"),
            ("count=-1", "count", "a whole number is needed here, in digits alone, such as 12"),
            ("count=ten", "count", "a whole number is needed here, in digits alone, such as 12"),
            ("count=", "count", "nothing stands here: write a whole number such as 12, or leave it out"),
            ("count=99999999999", "count", "this number is too large: a whole number from 0 to 4294967295"),
            ("yes=perhaps", "yes", "write true or false"),
            ("count=1&count=2", "count", "this field is sent twice: send it once"),
            ("other=1", "other", "unknown field: it can only be day, moment_at, id, count, yes"),
        ];
        for (query, field, plain) in cases {
            let said = serde_urlencoded::from_str::<Form>(query).unwrap_err().to_string();
            assert_eq!(sentence(&said, field), plain, "{query}: {said}");
        }
        assert_eq!(sentence("name exactly one question of: a", "x"), "name exactly one question of: a");
    }
}
