//! What was typed of a check, as numbers: grams, degrees Celsius, pH or per cent by its kind.

use galenics::{Decimal, Measure, Quantity, Temperature, number};
use store::{Error, Result};
use wire::checks::{CheckKind, NewCheck};
use wire::problem::FieldError;

use crate::measures::ph;

/// A check that was read.
#[derive(Clone, Debug, Default)]
pub(crate) struct Read {
    pub(crate) reference: Option<Decimal>,
    pub(crate) reading: Option<Decimal>,
    pub(crate) tolerance: Option<Decimal>,
    pub(crate) humidity: Option<Decimal>,
    pub(crate) passed: Option<bool>,
}

/// Which fields a kind of check has. `reading` of a meter comes with `reference` and `tolerance`.
const fn is_meter(kind: CheckKind) -> bool {
    matches!(kind, CheckKind::CheckWeight | CheckKind::Thermometer | CheckKind::PhMeter)
}

/// Reads a check.
///
/// # Errors
/// Returns [`Error::Invalid`] with each refused field and its cure.
pub(crate) fn read(request: &NewCheck) -> Result<Read> {
    use CheckKind as K;
    let kind = request.kind;
    let looked_at = matches!(kind, K::LineClearance | K::Cleaning);
    let mut errors = Vec::new();
    let mut refuse = |field: &str, detail: String| errors.push(FieldError::new(format!("/{field}"), detail));
    for (field, text, most) in [
        ("instrument", &request.instrument, 200),
        ("note", &request.note, 1000),
        ("reason", &request.reason, 1000),
    ] {
        if text.as_ref().is_some_and(|text| text.trim().is_empty() || text.chars().count() > most) {
            refuse(field, format!("Enter 1 to {most} characters, or omit the field."));
        }
    }
    let mut fits = |field: &str, given: bool, wanted: bool| match (given, wanted) {
        (false, true) => refuse(field, format!("A check of the kind {kind} requires this field.")),
        (true, false) => {
            refuse(field, format!("A check of the kind {kind} does not accept this field. Omit the field."));
        }
        _ => {}
    };
    fits("instrument", request.instrument.is_some(), is_meter(kind) || kind == K::Equipment);
    fits("reference", request.reference.is_some(), is_meter(kind));
    fits("reading", request.reading.is_some(), is_meter(kind) || kind == K::Room);
    fits("tolerance", request.tolerance.is_some(), is_meter(kind));
    fits("humidity", request.humidity.is_some(), kind == K::Room);
    fits("passed", request.passed.is_some(), looked_at);
    if request.passed == Some(false) && request.note.is_none() {
        refuse("note", "Enter what is not as it must be, and what was done about it.".into());
    }
    match (&request.corrects, &request.reason) {
        (Some(_), None) => refuse("reason", "Enter the reason for the correction.".into()),
        (None, Some(_)) => {
            refuse("reason", "A reason is accepted only with `corrects`. Use `note` for a remark.".into());
        }
        _ => {}
    }
    let mut parsed = |field: &str, text: &Option<String>, parse: &dyn Fn(&str) -> Result<Decimal, String>| {
        let value = parse(text.as_deref()?.trim());
        value.map_err(|detail| refuse(field, detail)).ok().map(|value| value.round_dp(12))
    };
    let shown: &dyn Fn(&str) -> Result<Decimal, String> = match kind {
        K::CheckWeight => &grams,
        K::PhMeter => &ph,
        _ => &celsius,
    };
    let reference = parsed("reference", &request.reference, shown);
    let reading = parsed("reading", &request.reading, shown);
    let tolerance = parsed("tolerance", &request.tolerance, &|text| tolerance(kind, text));
    let humidity = parsed("humidity", &request.humidity, &percent);
    if !errors.is_empty() {
        return Err(Error::Invalid(errors));
    }
    let within = match (reference, reading, tolerance) {
        (Some(reference), Some(reading), Some(tolerance)) => Some((reading - reference).abs() <= tolerance),
        _ => None,
    };
    Ok(Read { reference, reading, tolerance, humidity, passed: within.or(request.passed) })
}

fn grams(text: &str) -> Result<Decimal, String> {
    let cure = || "Enter a mass, such as 100 g.".to_owned();
    match Quantity::parse(text).map_err(|error| error.to_string())?.measure() {
        Measure::Mass(mass) if mass.g() < Decimal::from(1_000_000_000) => Ok(mass.g()),
        _ => Err(cure()),
    }
}

fn celsius(text: &str) -> Result<Decimal, String> {
    Temperature::parse(text).map(|at| at.c()).map_err(|error| error.to_string())
}

/// How far a reading may be off: a difference, so that a unit with another zero is refused.
fn tolerance(kind: CheckKind, text: &str) -> Result<Decimal, String> {
    let (value, cure) = match kind {
        CheckKind::CheckWeight => {
            (grams(text), "Enter the tolerance of the balance as a mass above 0, such as 0.05 g.")
        }
        CheckKind::Thermometer => (
            bare(text, &["°C", "C"]),
            "Enter the tolerance of the thermometer in degrees Celsius, above 0, such as 0.5 C.",
        ),
        _ => (bare(text, &["pH"]), "Enter the tolerance of the pH meter as a number above 0, such as 0.05."),
    };
    value.ok().filter(|value| *value > Decimal::ZERO).ok_or_else(|| cure.to_owned())
}

fn percent(text: &str) -> Result<Decimal, String> {
    let cure = || "Enter the relative humidity from 0 to 100 %, such as 45 %.".to_owned();
    bare(text, &["%"]).ok().filter(|value| *value <= Decimal::ONE_HUNDRED).ok_or_else(cure)
}

/// A number, with or without one of these units.
fn bare(text: &str, units: &[&str]) -> Result<Decimal, String> {
    let number = units.iter().find_map(|unit| text.strip_suffix(unit)).unwrap_or(text);
    number::parse(number.trim()).map_err(|error| error.to_string())
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::*;

    fn passed(check: serde_json::Value) -> Option<bool> {
        read(&serde_json::from_value(check).unwrap()).unwrap().passed
    }

    fn refused(check: serde_json::Value) -> Vec<String> {
        let Err(Error::Invalid(errors)) = read(&serde_json::from_value(check).unwrap()) else {
            panic!("it was read")
        };
        errors.into_iter().map(|error| error.pointer).collect()
    }

    #[test]
    fn a_meter_passes_up_to_its_tolerance_and_not_beyond() {
        for (kind, reference, reading, tolerance, wanted) in [
            ("check_weight", "100 g", "100.05 g", "0.05 g", true),
            ("check_weight", "100 g", "99.949 g", "0.05 g", false),
            ("check_weight", "0.1 kg", "100020 mg", "50 mg", true),
            ("thermometer", "0 C", "0.5 °C", "0.5", true),
            ("thermometer", "212 °F", "100.6 C", "0.5 C", false),
            ("ph_meter", "7.00", "pH 6.95", "0.05", true),
            ("ph_meter", "pH 4.01", "4.07", "0.05", false),
        ] {
            let check = json!({ "kind": kind, "instrument": "number 2", "reference": reference, "reading": reading,
                "tolerance": tolerance });
            assert_eq!(passed(check), Some(wanted), "{kind} {reading}");
        }
        assert_eq!(passed(json!({ "kind": "room", "reading": "21 C", "humidity": "45 %" })), None);
    }

    #[test]
    fn a_check_that_lacks_or_has_too_much_names_the_field() {
        assert_eq!(refused(json!({ "kind": "line_clearance" })), ["/passed"]);
        assert_eq!(refused(json!({ "kind": "line_clearance", "passed": false })), ["/note"]);
        assert_eq!(
            refused(json!({ "kind": "check_weight", "passed": true })),
            ["/instrument", "/reference", "/reading", "/tolerance", "/passed"]
        );
        let far = json!({ "kind": "thermometer", "instrument": "t", "reference": "0", "reading": "1 C",
            "tolerance": "1 °F" });
        assert_eq!(refused(far), ["/reference", "/tolerance"]);
        assert_eq!(refused(json!({ "kind": "room", "reading": "21 C", "humidity": "101" })), ["/humidity"]);
    }
}
