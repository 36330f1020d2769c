//! The materia medica: finding a material, reading it with its sources, amending it, and whom an amendment reaches.

use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use actix_web::web::{Path, Query};
use askama::Template;
use clinic::{amendments, materials, overview};
use serde::Deserialize;
use serde_json::Value;
use wire::amendments::{
    AffectedRevision, Amendment, AmendmentState, Change, DecideAmendment, ImportMaterials, NewAmendment,
    ReviseMaterial,
};
use wire::ids::{AmendmentId, MaterialId, PersonId};
use wire::materials::{MaterialEntry, MaterialQuery, MaterialSummary};
use wire::page::PageQuery;
use wire::people::Role;
use wire::problem::FieldError;

use crate::answer::{page, to};
use crate::facts::{self, Caution, Fact, plain};
use crate::form::Form;
use crate::frame::Frame;
use crate::mount::Mount;
use crate::texts::{t, t2};
use crate::trouble::Trouble;
use crate::visitor::Visitor;

pub(super) fn routes(mount: &mut impl Mount) {
    mount.get("/materials", list);
    mount.get("/materials/import", import_page);
    mount.post("/materials/import", import);
    mount.get("/materials/{id}", material);
    mount.get("/materials/{id}/amend", amend_page);
    mount.post("/materials/{id}/amend", amend);
    mount.get("/amendments/{id}", amendment);
    mount.post("/amendments/{id}", decide);
}

/// What was looked for, as the address says.
#[derive(Default, Deserialize)]
#[serde(default)]
struct Asked {
    q: String,
    after: String,
}

#[derive(Template)]
#[template(path = "materials.html")]
struct ListPage {
    frame: Frame,
    q: String,
    found: Vec<MaterialSummary>,
    next: String,
    instructor: bool,
}

async fn list(visitor: Visitor, asked: Query<Asked>) -> Result<HttpResponse, Trouble> {
    let asked = asked.into_inner();
    let search = Some(asked.q.trim().to_owned()).filter(|text| !text.is_empty());
    let after = Some(asked.after.clone()).filter(|after| !after.is_empty() && search.is_none());
    let query = MaterialQuery { search, limit: Some(50), after };
    let found = materials::materials(visitor.clinic(), visitor.credentials(), &query).await?;
    let next = found.next.map(|next| {
        format!("/materials?{}", serde_urlencoded::to_string([("after", next)]).unwrap_or_default())
    });
    let frame = visitor.frame(t("materials-title")).with("follow.js");
    let instructor = visitor.role() == Role::Instructor;
    page(
        StatusCode::OK,
        &ListPage { frame, q: asked.q, found: found.items, next: next.unwrap_or_default(), instructor },
    )
}

#[derive(Template)]
#[template(path = "material.html")]
struct MaterialPage {
    frame: Frame,
    id: MaterialId,
    name: String,
    kind: String,
    version: u32,
    synonyms: String,
    merged: String,
    facts: Vec<Fact>,
    cautions: Vec<Caution>,
    instructor: bool,
}

async fn material(visitor: Visitor, id: Path<String>) -> Result<HttpResponse, Trouble> {
    let id: MaterialId = id.parse().map_err(|_| Trouble::NoPage)?;
    let found = materials::material(visitor.clinic(), visitor.credentials(), id).await?;
    let told = facts::told(&found.facts);
    let frame = visitor.frame(found.name.clone());
    let page_of = MaterialPage {
        frame,
        id,
        name: found.name,
        kind: found.kind,
        version: found.version,
        synonyms: found.synonyms.join(", "),
        merged: found.merged_into.map(|id| id.to_string()).unwrap_or_default(),
        facts: told.facts,
        cautions: told.cautions,
        instructor: visitor.role() == Role::Instructor,
    };
    page(StatusCode::OK, &page_of)
}

/// A field of an entry: its name in the entry, its label, what is typed, and whether it takes lines.
struct Field {
    name: &'static str,
    label: String,
    value: String,
    lines: bool,
    cure: String,
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

async fn amend_page(visitor: Visitor, id: Path<String>) -> Result<HttpResponse, Trouble> {
    let id: MaterialId = id.parse().map_err(|_| Trouble::NoPage)?;
    let found = materials::entry(visitor.clinic(), visitor.credentials(), id).await?;
    amend_show(&visitor, StatusCode::OK, id, found.version, &found.entry, String::new(), &[])
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

async fn amend(visitor: Visitor, id: Path<String>, form: Form) -> Result<HttpResponse, Trouble> {
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

#[derive(Template)]
#[template(path = "import.html")]
struct ImportPage {
    frame: Frame,
    csv: String,
    reason: String,
    /// The field, and what is wrong there.
    faults: Vec<(&'static str, String)>,
    once: String,
}

async fn import_page(visitor: Visitor) -> Result<HttpResponse, Trouble> {
    visitor.only_instructors()?;
    import_show(&visitor, StatusCode::OK, String::new(), String::new(), Vec::new())
}

fn import_show(
    visitor: &Visitor,
    status: StatusCode,
    csv: String,
    reason: String,
    faults: Vec<(&'static str, String)>,
) -> Result<HttpResponse, Trouble> {
    let frame = visitor.frame(t("import-title")).with("forms.js");
    page(status, &ImportPage { frame, csv, reason, faults, once: visitor.pages().once() })
}

async fn import(visitor: Visitor, form: Form) -> Result<HttpResponse, Trouble> {
    let (csv, reason) = (form.exact("csv").replace("\r\n", "\n"), form.text("reason"));
    let once = form.once("POST /materials/import")?;
    let change = Change::ImportMaterials(ImportMaterials { csv: csv.clone(), read_at: None });
    let request = NewAmendment { reason: reason.clone(), change };
    match amendments::make(visitor.clinic(), visitor.credentials(), &once, &request).await {
        Ok(made) => Ok(to(&format!("/amendments/{}", made.id))),
        Err(clinic::Error::Invalid(errors)) => {
            let field = |error: &FieldError| if error.pointer.ends_with("reason") { "reason" } else { "csv" };
            let faults = errors.iter().map(|error| (field(error), error.detail.clone())).collect();
            import_show(&visitor, StatusCode::UNPROCESSABLE_ENTITY, csv, reason, faults)
        }
        Err(other) => Err(other.into()),
    }
}

#[derive(Template)]
#[template(path = "amendment.html")]
struct AmendmentPage {
    frame: Frame,
    amendment: Amendment,
    kind: String,
    state: String,
    said: String,
    reached: Vec<AffectedRevision>,
    next: String,
    decides: bool,
    cure: String,
}

async fn amendment(visitor: Visitor, id: Path<String>, asked: Query<Asked>) -> Result<HttpResponse, Trouble> {
    let id: AmendmentId = id.parse().map_err(|_| Trouble::NoPage)?;
    amendment_page(&visitor, id, StatusCode::OK, &asked.after, String::new()).await
}

async fn amendment_page(
    visitor: &Visitor,
    id: AmendmentId,
    status: StatusCode,
    after: &str,
    cure: String,
) -> Result<HttpResponse, Trouble> {
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let amendment = amendments::amendment(clinic, credentials, id).await?;
    let after = Some(after.to_owned()).filter(|after| !after.is_empty());
    let reached =
        amendments::affected(clinic, credentials, id, &PageQuery { limit: Some(50), after }).await?;
    let ids: Vec<PersonId> = amendment.made_by.into_iter().chain(amendment.decided_by).collect();
    let names = overview::names(clinic, credentials, &ids).await?;
    let name = |of: Option<PersonId>| {
        names.iter().find(|(id, _)| Some(*id) == of).map(|(_, name)| name.clone()).unwrap_or_default()
    };
    let frame = visitor.frame(t("amendment-title")).with("forms.js");
    let waits = amendment.state == AmendmentState::AwaitingSecondPerson;
    let said = match amendment.decided_at {
        Some(at) => t2("amendment-decided", name(amendment.decided_by), frame.when(&at)),
        None => t2("amendment-made", name(amendment.made_by), frame.when(&amendment.made_at)),
    };
    // word("amendment-state") word("amendment-kind")
    let page_of = AmendmentPage {
        kind: t(&format!("amendment-kind-{}", amendment.kind.as_str().replace('_', "-"))),
        state: t(&format!("amendment-state-{}", amendment.state.as_str().replace('_', "-"))),
        said,
        next: reached.next.map(|next| format!("/amendments/{id}?after={next}")).unwrap_or_default(),
        reached: reached.items,
        decides: waits
            && amendment.made_by != Some(visitor.person().id)
            && visitor.role() == Role::Instructor,
        amendment,
        cure,
        frame,
    };
    page(status, &page_of)
}

async fn decide(visitor: Visitor, id: Path<String>, form: Form) -> Result<HttpResponse, Trouble> {
    let id: AmendmentId = id.parse().map_err(|_| Trouble::NoPage)?;
    let decision = form.text("decision").parse().map_err(|_| Trouble::Malformed)?;
    match amendments::decide(visitor.clinic(), visitor.credentials(), id, &DecideAmendment { decision }).await
    {
        Ok(_) | Err(clinic::Error::State { .. }) => Ok(to(&format!("/amendments/{id}"))),
        Err(clinic::Error::Invalid(errors)) => {
            let cure = errors.into_iter().map(|error| error.detail).collect::<Vec<_>>().join(" ");
            amendment_page(&visitor, id, StatusCode::UNPROCESSABLE_ENTITY, "", cure).await
        }
        Err(other) => Err(other.into()),
    }
}
