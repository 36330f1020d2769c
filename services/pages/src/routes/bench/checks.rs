//! The checks before the start, on one page: what is recorded of each, and the fields for what is not.

use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use actix_web::web::{Path, Query};
use askama::Template;
use clinic::{Detail, bench};
use serde::Deserialize;
use wire::bench::BatchRecord;
use wire::checks::{Check, CheckKind, NewCheck};
use wire::ids::{BatchId, CheckId};

use super::record::writable;
use super::written::with_unit;
use crate::acts;
use crate::answer::{page, to};
use crate::figures::spelled;
use crate::form::{self, Form};
use crate::frame::Frame;
use crate::mount::Mount;
use crate::routes::formula;
use crate::shown::shown;
use crate::texts::{t, t2, text};
use crate::trouble::Trouble;
use crate::visitor::Visitor;

pub(super) fn routes(mount: &mut impl Mount) {
    mount.get("/batches/{id}/checks", checks_page);
    mount.post("/batches/{id}/checks", write_checks);
}

/// A check that counts, with what it corrected: what stood there, and why.
struct Written {
    id: CheckId,
    words: String,
    failed: bool,
    by: String,
    instead: Vec<(String, String)>,
}

/// A field of a kind of check.
struct Well {
    name: String,
    label: String,
    hint: String,
    value: String,
    cure: String,
}

/// A kind of check: what is recorded of it, and its fields.
struct Group {
    word: &'static str,
    title: String,
    stands: String,
    written: Vec<Written>,
    /// Whether its fields stand on the page.
    open: bool,
    looked_at: bool,
    asks: String,
    passed: String,
    passed_cure: String,
    wells: Vec<Well>,
    corrects: Option<CheckId>,
    once: String,
}

#[derive(Template)]
#[template(path = "checks.html")]
struct ChecksPage {
    frame: Frame,
    id: BatchId,
    title: String,
    number: String,
    may: bool,
    findings: Vec<String>,
    groups: Vec<Group>,
    /// Cures of what has no field on the page.
    faults: Vec<String>,
}

#[derive(Default, Deserialize)]
#[serde(default)]
struct Asked {
    correct: String,
}

const fn looked_at(kind: CheckKind) -> bool {
    matches!(kind, CheckKind::LineClearance | CheckKind::Cleaning)
}

/// The fields of a kind of check, in the order in which they are read.
const fn fields(kind: CheckKind) -> &'static [&'static str] {
    match kind {
        CheckKind::LineClearance | CheckKind::Cleaning => &["note"],
        CheckKind::CheckWeight | CheckKind::Thermometer | CheckKind::PhMeter => {
            &["instrument", "reference", "reading", "tolerance"]
        }
        CheckKind::Room => &["reading", "humidity"],
        CheckKind::Equipment => &["instrument"],
    }
}

/// The unit of a field where none is typed.
const fn unit(kind: CheckKind) -> &'static str {
    match kind {
        CheckKind::CheckWeight => "g",
        CheckKind::Thermometer | CheckKind::Room => "C",
        _ => "",
    }
}

/// A check in words.
fn words(check: &Check) -> String {
    let part = |part: &Option<String>| part.as_deref().map(spelled).unwrap_or_default();
    let note = || check.note.as_ref().map(|note| format!(" {note}")).unwrap_or_default();
    match check.kind {
        CheckKind::LineClearance | CheckKind::Cleaning if check.passed == Some(true) => {
            format!("{}{}", t(&format!("checks-asks-{}", check.kind.as_str().replace('_', "-"))), note())
        }
        CheckKind::LineClearance | CheckKind::Cleaning => note().trim().to_owned(),
        CheckKind::CheckWeight | CheckKind::Thermometer | CheckKind::PhMeter => {
            let said = text(
                "checks-meter-read",
                &[
                    ("a", part(&check.instrument).into()),
                    ("b", part(&check.reading).into()),
                    ("c", part(&check.reference).into()),
                    ("d", part(&check.tolerance).into()),
                ],
            );
            format!("{said}{}", note())
        }
        CheckKind::Room => {
            format!("{}{}", t2("checks-room-read", part(&check.reading), part(&check.humidity)), note())
        }
        CheckKind::Equipment => format!("{}.{}", part(&check.instrument), note()),
    }
}

fn written(frame: &Frame, check: &Check, all: &[Check]) -> Written {
    let mut instead = Vec::new();
    let mut newer = check;
    while let Some(old) = newer.corrects.and_then(|id| all.iter().find(|one| one.id == id)) {
        instead.push((words(old), newer.reason.clone().unwrap_or_default()));
        newer = old;
    }
    Written {
        id: check.id,
        words: words(check),
        failed: check.passed == Some(false),
        by: t2("who-when", check.by_name.clone().unwrap_or_default(), frame.when(&check.at)),
        instead,
    }
}

/// What was sent and not accepted.
#[derive(Default)]
struct Refused {
    form: Form,
    /// Kind, field and cure.
    cures: Vec<(CheckKind, String, String)>,
}

fn group(
    (visitor, frame): (&Visitor, &Frame),
    kind: CheckKind,
    record: &BatchRecord,
    last: &[Check],
    correcting: Option<&Check>,
    refused: &Refused,
) -> Group {
    let word = kind.as_str();
    // word("check")
    let title = t(&format!("check-{}", word.replace('_', "-")));
    let live = || record.checks.iter().filter(|check| check.kind == kind && check.corrected_by.is_none());
    let correcting = correcting.filter(|check| check.kind == kind);
    let typed = |field: &str| refused.form.text(&format!("{field}-{word}"));
    let of = |check: &Check, field: &str| match field {
        "instrument" => check.instrument.clone(),
        "reference" => check.reference.clone(),
        "reading" => check.reading.clone(),
        "tolerance" => check.tolerance.clone(),
        "humidity" => check.humidity.clone(),
        _ => check.note.clone(),
    };
    // What the meter is, is the same as last time; what it shows is not.
    let same = |field: &str| {
        let check = last.iter().find(|check| check.kind == kind);
        check
            .filter(|_| matches!(field, "instrument" | "reference" | "tolerance"))
            .and_then(|check| of(check, field))
    };
    let cure = |field: &str| -> String {
        let of = refused.cures.iter().filter(|(of, name, _)| *of == kind && name == field);
        of.map(|(.., cure)| cure.as_str()).collect::<Vec<_>>().join(" ")
    };
    let sent = refused.cures.iter().any(|(of, ..)| *of == kind);
    let key = word.replace('_', "-");
    let well = |field: &str| Well {
        name: format!("{field}-{word}"),
        // word("checks")
        label: if field == "reason" { t("checks-reason") } else { t(&format!("checks-{field}-{key}")) },
        hint: match (field, kind) {
            ("reference", _) | ("instrument", CheckKind::Equipment) => t(&format!("checks-hint-{key}")),
            _ => String::new(),
        },
        value: match (sent, correcting) {
            (true, _) => typed(field),
            (false, Some(check)) if field != "reason" => of(check, field).unwrap_or_default(),
            (false, Some(_)) => String::new(),
            (false, None) => same(field).unwrap_or_default(),
        },
        cure: cure(field),
    };
    let reason = (correcting.is_some() || sent && !typed("corrects").is_empty()).then_some("reason");
    let wells = fields(kind).iter().copied().chain(reason).map(well).collect();
    let stands = match live().next_back().map(|check| check.passed) {
        None => t("checks-none"),
        Some(None) => t("checks-stands-recorded"),
        Some(Some(true)) => t("checks-stands-passed"),
        Some(Some(false)) => t("checks-stands-failed"),
    };
    let passed =
        correcting.and_then(|check| check.passed).map_or("", |passed| if passed { "yes" } else { "no" });
    Group {
        word,
        title,
        stands,
        written: live().map(|check| written(frame, check, &record.checks)).collect(),
        open: true,
        looked_at: looked_at(kind),
        asks: if looked_at(kind) { t(&format!("checks-asks-{key}")) } else { String::new() },
        passed: if sent { typed("passed") } else { passed.to_owned() },
        passed_cure: cure("passed"),
        wells,
        corrects: correcting
            .map(|check| check.id)
            .or_else(|| typed("corrects").parse().ok().filter(|_| sent)),
        once: visitor.pages().once(),
    }
}

async fn checks_shown(
    visitor: &Visitor,
    id: BatchId,
    status: StatusCode,
    correct: &str,
    refused: Refused,
) -> Result<HttpResponse, Trouble> {
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let record: BatchRecord = match bench::batch(clinic, credentials, id, Detail::Brief).await {
        Err(clinic::Error::GateClosed(outstanding)) => {
            return formula::gate(visitor, &outstanding, format!("/batches/{id}/checks")).await;
        }
        other => shown(&other?)?,
    };
    let may = record.summary.maker == visitor.person().id && writable(record.summary.state);
    let last = bench::last_checks(clinic, credentials).await?;
    let frame = visitor.frame(t("checks-act-link")).with("forms.js");
    let correcting = record.checks.iter().find(|check| check.id.to_string() == correct && may);
    let groups: Vec<Group> = CheckKind::ALL
        .iter()
        .filter(|kind| correcting.is_none_or(|check| check.kind == **kind))
        .map(|kind| group((visitor, &frame), *kind, &record, &last, correcting, &refused))
        .collect();
    let on_page = |name: &str| groups.iter().flat_map(|group| &group.wells).any(|well| well.name == name);
    let hidden = |(kind, field, _): &&(CheckKind, String, String)| {
        field != "passed" && !on_page(&format!("{field}-{}", kind.as_str()))
    };
    let faults = refused.cures.iter().filter(hidden).map(|(.., cure)| cure.clone()).collect();
    let page_of = ChecksPage {
        id,
        title: record.summary.title.clone(),
        number: record.summary.number.clone(),
        may,
        findings: acts::checks(&record),
        faults,
        groups,
        frame,
    };
    page(status, &page_of)
}

async fn checks_page(
    visitor: Visitor,
    id: Path<String>,
    asked: Query<Asked>,
) -> Result<HttpResponse, Trouble> {
    let id: BatchId = id.parse().map_err(|_| Trouble::NoPage)?;
    checks_shown(&visitor, id, StatusCode::OK, &asked.correct, Refused::default()).await
}

/// The check of a kind that a form holds, if something of it was filled in that is not there by itself.
fn check_of(form: &Form, kind: CheckKind) -> Option<NewCheck> {
    let word = kind.as_str();
    let given = |field: &str| form.given(&format!("{field}-{word}"));
    let unit = unit(kind);
    let measured = |field: &str| given(field).map(|typed| with_unit(&typed, unit));
    let begun = match kind {
        CheckKind::Equipment => given("instrument").is_some(),
        CheckKind::Room => given("reading").or_else(|| given("humidity")).is_some(),
        kind if looked_at(kind) => given("passed").or_else(|| given("note")).is_some(),
        _ => given("reading").is_some(),
    };
    let corrects = given("corrects").and_then(|id| id.parse().ok());
    (begun || corrects.is_some()).then(|| NewCheck {
        kind,
        instrument: given("instrument"),
        reference: measured("reference"),
        reading: measured("reading"),
        tolerance: measured("tolerance"),
        humidity: given("humidity"),
        passed: given("passed").map(|passed| passed == "yes"),
        note: given("note"),
        corrects,
        reason: given("reason"),
    })
}

/// Each kind is a check with a key of its own; one that is refused stays with its cure while the others are written.
async fn write_checks(visitor: Visitor, id: Path<String>, form: Form) -> Result<HttpResponse, Trouble> {
    let id: BatchId = id.parse().map_err(|_| Trouble::NoPage)?;
    let mut cures = Vec::new();
    let mut any = false;
    for kind in CheckKind::ALL {
        let Some(request) = check_of(&form, *kind) else { continue };
        any = true;
        let word = kind.as_str();
        let once = form.once_of(&format!("once-{word}"), &format!("POST /batches/{id}/checks"), &[word])?;
        match bench::check_create(visitor.clinic(), visitor.credentials(), &once, id, &request).await {
            Ok(_) | Err(clinic::Error::KeyReused) => {}
            Err(error) => {
                cures.extend(form::faults(error)?.into_iter().map(|(field, cure)| (*kind, field, cure)));
            }
        }
    }
    if cures.is_empty() && any {
        return Ok(to(&format!("/batches/{id}/checks")));
    }
    let refused = Refused { form, cures };
    checks_shown(&visitor, id, StatusCode::UNPROCESSABLE_ENTITY, "", refused).await
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_meter_is_checked_when_what_it_shows_is_typed() {
        let form = Form::parse(
            b"instrument-check_weight=balance+2&reference-check_weight=100&tolerance-check_weight=0.05",
        )
        .unwrap();
        assert!(check_of(&form, CheckKind::CheckWeight).is_none(), "the rest is there by itself");
        let form = Form::parse(b"instrument-thermometer=t&reference-thermometer=0&reading-thermometer=0.2+C")
            .unwrap();
        let check = check_of(&form, CheckKind::Thermometer).unwrap();
        assert_eq!((check.reference.as_deref(), check.reading.as_deref()), (Some("0 C"), Some("0.2 C")));
        let form = Form::parse(b"passed-cleaning=no").unwrap();
        assert_eq!(check_of(&form, CheckKind::Cleaning).unwrap().passed, Some(false));
    }
}
