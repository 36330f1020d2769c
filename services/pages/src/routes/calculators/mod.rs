//! The calculators: questions without a formula, each a sentence with wells. The question stands in the address, so that a
//! teacher can send it.

use std::collections::BTreeMap;

use actix_web::http::StatusCode;
use actix_web::web::Path;
use actix_web::{HttpRequest, HttpResponse};
use askama::Template;
use clinic::calculations as calc;
use serde::de::DeserializeOwned;
use serde_json::{Map, Value, json};
use wire::calculations::Calculated;
use wire::figure::Figure;
use wire::problem::FieldError;

use crate::answer::page;
use crate::composed::limit_sentence;
use crate::figures::{self, Shown, Sum, spelled, why};
use crate::frame::Frame;
use crate::mount::Mount;
use crate::texts::t;
use crate::trouble::Trouble;
use crate::visitor::Visitor;
use Kind::{Draws, Lines, Number, Optional, Portions, Text, Texts};
use questions::{Kind, QUESTIONS, Question};

mod questions;

pub(super) fn routes(mount: &mut impl Mount) {
    mount.get("/calculators", list);
    mount.get("/calculators/{slug}", calculator);
}

/// A part of the sentence: words, or a well.
enum Part {
    Words(String),
    Well { name: String, label: String, value: String, lines: bool, cure: String },
}

struct Answer {
    name: String,
    figure: Shown,
    sentence: String,
    why: Vec<Sum>,
}

#[derive(Template)]
#[template(path = "calculator.html")]
struct CalculatorPage {
    frame: Frame,
    slug: &'static str,
    title: String,
    parts: Vec<Part>,
    answers: Vec<Answer>,
    notes: Vec<String>,
    faults: Vec<String>,
    asked: bool,
    others: Vec<(&'static str, String)>,
}

#[derive(Template)]
#[template(path = "calculators.html")]
struct ListPage {
    frame: Frame,
    all: Vec<(&'static str, String)>,
}

fn titles() -> Vec<(&'static str, String)> {
    // word("calc")
    QUESTIONS.iter().map(|question| (question.slug, t(&format!("calc-{}", question.slug)))).collect()
}

async fn list(visitor: Visitor) -> Result<HttpResponse, Trouble> {
    let frame = visitor.frame(t("calculators-title"));
    page(StatusCode::OK, &ListPage { frame, all: titles() })
}

fn lines(text: &str) -> impl Iterator<Item = &str> {
    text.lines().map(str::trim).filter(|line| !line.is_empty())
}

/// An amount and what stands behind it: `200 mL 96 %`.
fn two(line: &str) -> (String, String) {
    let read = clinic::formulary::typed::line(line);
    (read.amount, read.material.unwrap_or_default())
}

fn value(kind: Kind, name: &str, typed: &str) -> Option<Value> {
    let text = typed.trim();
    Some(match kind {
        Text => Value::String(text.to_owned()),
        Optional => return Some(Value::String(text.to_owned())).filter(|_| !text.is_empty()),
        Number => text.parse::<u32>().map_or_else(|_| Value::String(text.to_owned()), Value::from),
        Texts => lines(typed).map(|line| Value::String(line.to_owned())).collect(),
        Lines => lines(typed)
            .map(|line| {
                let (amount, material) = two(line);
                json!({ "material": material, "amount": amount })
            })
            .collect(),
        Portions => lines(typed)
            .map(|line| {
                let words: Vec<&str> = line.split_whitespace().collect();
                let (amount, strength) = words.split_at(words.len().min(2));
                json!({ "amount": amount.join(" "), "strength": strength.join(" ") })
            })
            .collect(),
        Draws => lines(typed)
            .map(|line| {
                let parts: Vec<&str> = line.split(';').map(str::trim).collect();
                let mut draw = Map::new();
                for (i, field) in ["name", "quantity", "price", "per"].iter().enumerate() {
                    if let Some(part) = parts.get(i).filter(|part| !part.is_empty()) {
                        draw.insert((*field).to_owned(), Value::String((*part).to_owned()));
                    }
                }
                Value::Object(draw)
            })
            .collect(),
    })
    .filter(|_| !name.is_empty())
}

/// The question as the clinic reads it.
fn body(question: &Question, typed: &BTreeMap<String, String>, today: &str) -> Value {
    let mut fields = Map::new();
    for (name, usual, kind) in question.wells {
        let text = typed.get(*name).map_or(*usual, String::as_str);
        if let Some(value) = value(*kind, name, text) {
            fields.insert((*name).to_owned(), value);
        }
    }
    match question.subject {
        "use_by" => {
            if fields.get("made_on").and_then(Value::as_str).is_none_or(|day| day == "today") {
                fields.insert("made_on".into(), today.into());
            }
            fields.insert("regime".into(), "cosmetic".into());
            fields.insert("route".into(), "skin".into());
        }
        "skin_limits" => {
            fields.insert("regime".into(), "cosmetic".into());
        }
        "dose" => {
            let mass = fields.remove("mass").unwrap_or_default();
            fields.insert("application".into(), json!({ "mass": mass }));
        }
        _ => {}
    }
    if question.within.is_empty() { Value::Object(fields) } else { json!({ question.within: fields }) }
}

fn read<T: DeserializeOwned>(body: Value) -> Result<T, clinic::Error> {
    serde_json::from_value(body).map_err(|error| clinic::Error::field("", error.to_string()))
}

async fn answer(
    visitor: &Visitor,
    question: &Question,
    body: Value,
) -> Result<(Vec<Figure>, Vec<String>), clinic::Error> {
    let (clinic, who) = (visitor.clinic(), visitor.credentials());
    let calculated = |calculated: Calculated| (calculated.figures, calculated.notes);
    Ok(match question.subject {
        "alcohol" => calculated(calc::alcohol(clinic, who, &read(body)?).await?),
        "extraction" => calculated(calc::extraction(clinic, who, &read(body)?).await?),
        "emulsion" => calculated(calc::emulsion(clinic, who, &read(body)?).await?),
        "weighing" => calculated(calc::weighing(clinic, who, &read(body)?).await?),
        "strength" => calculated(calc::strength(clinic, who, &read(body)?).await?),
        "dose" => calculated(calc::dose(clinic, who, &read(body)?).await?),
        "quantity" => calculated(calc::quantity(clinic, who, &read(body)?).await?),
        "cost" => (calc::cost(clinic, who, &read(body)?).await?.figures, Vec::new()),
        "use_by" => {
            let dated = calc::use_by(clinic, who, &read(body)?).await?;
            let frame = visitor.frame(String::new());
            let date = dated.date.map_or_else(|| t("no-date"), |day| frame.day(&day));
            (dated.figures, vec![date])
        }
        _ => {
            let judged = calc::skin_limits(clinic, who, &read(body)?).await?;
            let mut notes: Vec<String> = judged.limits.iter().map(limit_sentence).collect();
            if notes.is_empty() {
                notes.push(t("no-rule-recorded"));
            }
            (judged.figures, notes)
        }
    })
}

/// The sentence of a question, with its wells where `[name|label]` stands.
fn parts(question: &Question, typed: &BTreeMap<String, String>, errors: &[FieldError]) -> Vec<Part> {
    // word("calc-say")
    let sentence = t(&format!("calc-say-{}", question.slug));
    let mut parts = Vec::new();
    let mut rest = sentence.as_str();
    while let Some((words, behind)) = rest.split_once('[') {
        let Some((well, after)) = behind.split_once(']') else { break };
        parts.push(Part::Words(words.to_owned()));
        let (name, label) = well.split_once('|').unwrap_or((well, well));
        let known = question.wells.iter().find(|(of, ..)| *of == name);
        let usual = known.map_or("", |(_, usual, _)| *usual);
        let lines = known.is_some_and(|(.., kind)| matches!(kind, Lines | Portions | Texts | Draws));
        let of = errors.iter().filter(|error| error.pointer.split('/').any(|part| part == name));
        parts.push(Part::Well {
            name: name.to_owned(),
            label: label.to_owned(),
            value: typed.get(name).cloned().unwrap_or_else(|| usual.to_owned()),
            lines,
            cure: of.map(|error| error.detail.clone()).collect::<Vec<_>>().join(" "),
        });
        rest = after;
    }
    parts.push(Part::Words(rest.to_owned()));
    parts
}

async fn calculator(
    request: HttpRequest,
    visitor: Visitor,
    slug: Path<String>,
) -> Result<HttpResponse, Trouble> {
    let question = QUESTIONS.iter().find(|question| question.slug == slug.as_str()).ok_or(Trouble::NoPage)?;
    let typed: BTreeMap<String, String> =
        serde_urlencoded::from_str::<Vec<(String, String)>>(request.query_string())
            .unwrap_or_default()
            .into_iter()
            .collect();
    let frame = visitor.frame(t(&format!("calc-{}", question.slug))).with("calculator.js").with_figures();
    let asked = !typed.is_empty();
    let (mut figures, mut notes, mut errors) = (Vec::new(), Vec::new(), Vec::new());
    if asked {
        match answer(&visitor, question, body(question, &typed, &frame.today().to_string())).await {
            Ok(found) => (figures, notes) = found,
            Err(clinic::Error::Invalid(refused)) => errors = refused,
            Err(other) => return Err(other.into()),
        }
    }
    let parts = parts(question, &typed, &errors);
    let beside = |error: &FieldError| {
        question.wells.iter().any(|(name, ..)| error.pointer.split('/').any(|part| part == *name))
    };
    let faults = errors.iter().filter(|error| !beside(error)).map(|error| error.detail.clone()).collect();
    let status = if errors.is_empty() { StatusCode::OK } else { StatusCode::UNPROCESSABLE_ENTITY };
    let answers = figures
        .iter()
        .map(|figure| Answer {
            name: figure.name.clone(),
            figure: figures::shown(figure),
            sentence: figure.sentence.as_deref().map(spelled).unwrap_or_default(),
            why: why(figure),
        })
        .collect();
    let title = frame.title.clone();
    let page_of = CalculatorPage {
        frame,
        slug: question.slug,
        title,
        parts,
        answers,
        notes,
        faults,
        asked,
        others: titles(),
    };
    page(status, &page_of)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_question_has_a_well_for_each_of_its_fields() {
        for question in QUESTIONS {
            let sentence = t(&format!("calc-say-{}", question.slug));
            for (name, ..) in question.wells {
                assert!(sentence.contains(&format!("[{name}|")), "{}: {name}", question.slug);
            }
        }
    }

    #[test]
    fn a_question_is_asked_as_the_clinic_reads_it() {
        let question = QUESTIONS.iter().find(|question| question.slug == "alcohol").unwrap();
        let typed = BTreeMap::from([("wanted".to_owned(), "1 L".to_owned())]);
        let expected = json!({ "dilution": { "wanted": "1 L", "strength": "45 %", "stock": "96 %" } });
        assert_eq!(body(question, &typed, "2026-11-29"), expected);
        assert_eq!(
            value(Portions, "streams", "200 mL 96 %").unwrap(),
            json!([{ "amount": "200 mL", "strength": "96 %" }])
        );
    }
}
