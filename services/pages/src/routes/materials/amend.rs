//! Changing an entry of the materia medica, a field each.

use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use actix_web::web::{Path, Query};
use askama::Template;
use clinic::{amendments, materials};
use serde::Deserialize;
use serde_json::Value;
use wire::amendments::{Change, NewAmendment, ReviseMaterial};
use wire::ids::MaterialId;
use wire::materials::MaterialEntry;

use crate::answer::{page, to};
use crate::facts::plain;
use crate::form::Form;
use crate::frame::Frame;
use crate::texts::t;
use crate::trouble::Trouble;
use crate::visitor::Visitor;

/// A field of an entry: its name in the entry, its label, what is typed, and whether it takes lines.
struct Field {
    name: &'static str,
    label: String,
    value: String,
    lines: bool,
    /// What it may be, and how that is called, where it is one of few words.
    choices: Vec<(&'static str, String)>,
    cure: String,
}

/// What may be known of harm, and how far a source was read. Nothing said stays nothing.
fn choices(field: &str) -> Vec<(&'static str, String)> {
    let harm = || {
        vec![
            ("", t("entry-not-said")),
            ("known-harm", t("entry-known-harm")),
            ("no-data", t("entry-no-data")),
            ("food-use", t("entry-food-use")),
            ("ordinary-use", t("entry-ordinary-use")),
        ]
    };
    match field {
        "pregnancy" | "breast_feeding" => harm(),
        "status" => vec![
            ("verified", t("entry-verified")),
            ("secondary", t("entry-secondary")),
            ("from memory", t("entry-from-memory")),
            ("common practice", t("entry-common-practice")),
        ],
        _ => Vec::new(),
    }
}

/// The fields of an entry that are a text each, and those that are lists.
const TEXTS: [&str; 18] = [
    "name",
    "kind",
    "inci",
    "botanical_name",
    "botanical_author",
    "family",
    "part",
    "state",
    "density_g_per_ml",
    "density_at_celsius",
    "water_percent",
    "ethanol_percent_by_volume",
    "hlb",
    "required_hlb",
    "pregnancy",
    "breast_feeding",
    "source",
    "status",
];
const LISTS: [&str; 4] = ["synonyms", "allergy_groups", "constituents", "cautions"];

fn listed(entry: &Value, name: &str) -> String {
    let text = |value: &Value, key: &str| value.get(key).and_then(plain).unwrap_or_default();
    let items = entry.get(name).and_then(Value::as_array).cloned().unwrap_or_default();
    let lines = items.iter().map(|item| match name {
        "constituents" => format!(
            "{}; {}; {}",
            text(item, "substance"),
            text(item, "low_percent"),
            text(item, "high_percent")
        ),
        "cautions" => format!("{}; {}; {}", text(item, "level"), text(item, "audiences"), text(item, "text")),
        _ => plain(item).unwrap_or_default(),
    });
    lines.collect::<Vec<_>>().join("\n")
}

/// The entry as it is typed: what the form does not show stays as it is.
fn entry(form: &Form, now: &MaterialEntry) -> Result<MaterialEntry, Trouble> {
    let mut entry = serde_json::to_value(now).map_err(clinic::Error::from)?;
    let Some(fields) = entry.as_object_mut() else { return Err(Trouble::Malformed) };
    for name in TEXTS {
        match form.given(name) {
            Some(text) => fields.insert(name.to_owned(), Value::String(text)),
            None => fields.remove(name),
        };
    }
    for name in LISTS {
        let lines = form.text(name);
        let lines = lines.lines().map(str::trim).filter(|line| !line.is_empty());
        let items: Vec<Value> = lines
            .map(|line| {
                let parts: Vec<&str> = line.splitn(3, ';').map(str::trim).collect();
                let part = |i: usize| parts.get(i).copied().unwrap_or_default();
                match name {
                    "constituents" => serde_json::json!({ "substance": part(0), "low_percent": part(1), "high_percent": part(2) }),
                    "cautions" => {
                        let audiences: Vec<&str> = part(1).split(',').map(str::trim).filter(|one| !one.is_empty()).collect();
                        serde_json::json!({ "level": part(0), "audiences": audiences, "text": part(2) })
                    }
                    _ => Value::String(line.to_owned()),
                }
            })
            .collect();
        fields.insert(name.to_owned(), Value::Array(items));
    }
    serde_json::from_value(entry).map_err(|_| Trouble::Malformed)
}

#[derive(Template)]
#[template(path = "amend.html")]
struct AmendPage {
    frame: Frame,
    id: MaterialId,
    name: String,
    version: u32,
    fields: Vec<Field>,
    reason: String,
    faults: Vec<String>,
    once: String,
}

/// What the page that led here says of the amendment.
#[derive(Default, Deserialize)]
#[serde(default)]
pub(super) struct Begun {
    reason: String,
    /// Whether a caution is to be added.
    caution: String,
}

pub(super) async fn form(
    visitor: Visitor,
    id: Path<String>,
    begun: Query<Begun>,
) -> Result<HttpResponse, Trouble> {
    let id: MaterialId = id.parse().map_err(|_| Trouble::NoPage)?;
    let found = materials::entry(visitor.clinic(), visitor.credentials(), id).await?;
    let mut entry = found.entry;
    if !begun.caution.is_empty() {
        let (level, audiences) = ("caution".to_owned(), vec!["everyone".to_owned()]);
        entry.cautions.push(wire::materials::EntryCaution { level, audiences, text: String::new() });
    }
    let reason = begun.reason.chars().take(1000).collect();
    amend_show(&visitor, StatusCode::OK, id, found.version, &entry, reason, &[])
}

fn amend_show(
    visitor: &Visitor,
    status: StatusCode,
    id: MaterialId,
    version: u32,
    now: &MaterialEntry,
    reason: String,
    errors: &[wire::problem::FieldError],
) -> Result<HttpResponse, Trouble> {
    let entry = serde_json::to_value(now).map_err(clinic::Error::from)?;
    let cure = |name: &str| {
        let of = errors.iter().filter(|error| error.pointer.contains(&format!("/entry/{name}")));
        of.map(|error| error.detail.clone()).collect::<Vec<_>>().join(" ")
    };
    let texts = TEXTS.iter().map(|name| Field {
        name,
        // word("field-of")
        label: t(&format!("field-of-{}", name.replace('_', "-"))),
        value: entry.get(*name).and_then(plain).unwrap_or_default(),
        lines: false,
        choices: choices(name),
        cure: cure(name),
    });
    let lists = LISTS.iter().map(|name| Field {
        name,
        label: match *name {
            "constituents" => t("entry-constituents"),
            "cautions" => t("entry-cautions"),
            "synonyms" => t("entry-synonyms"),
            _ => t("entry-allergies"),
        },
        value: listed(&entry, name),
        lines: true,
        choices: Vec::new(),
        cure: cure(name),
    });
    let fields: Vec<Field> = texts.chain(lists).collect();
    let told = |error: &&wire::problem::FieldError| {
        !fields.iter().any(|field| error.pointer.contains(&format!("/entry/{}", field.name)))
    };
    let faults = errors.iter().filter(told).map(|error| error.detail.clone()).collect();
    let frame = visitor.frame(now.name.clone()).with("forms.js");
    let once = visitor.pages().once();
    page(status, &AmendPage { frame, id, name: now.name.clone(), version, fields, reason, faults, once })
}

pub(super) async fn amend(visitor: Visitor, id: Path<String>, form: Form) -> Result<HttpResponse, Trouble> {
    let id: MaterialId = id.parse().map_err(|_| Trouble::NoPage)?;
    let version = form.text("version").parse().map_err(|_| Trouble::Malformed)?;
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let now = materials::entry(clinic, credentials, id).await?;
    let entry = entry(&form, &now.entry)?;
    let once = form.once(&format!("POST /materials/{id}/amend"))?;
    let reason = form.text("reason");
    let change = Change::ReviseMaterial(ReviseMaterial { material: id, version, entry: entry.clone() });
    match amendments::make(clinic, credentials, &once, &NewAmendment { reason: reason.clone(), change }).await
    {
        Ok(made) => Ok(to(&format!("/amendments/{}", made.id))),
        Err(clinic::Error::Invalid(errors)) => {
            amend_show(&visitor, StatusCode::UNPROCESSABLE_ENTITY, id, version, &entry, reason, &errors)
        }
        Err(other) => Err(other.into()),
    }
}
