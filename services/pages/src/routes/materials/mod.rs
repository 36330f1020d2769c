//! The materia medica: finding a material and reading it with its sources; amending it, and importing many.

mod amend;
mod amendment;
mod import;

use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use actix_web::web::{Path, Query};
use askama::Template;
use clinic::materials;
use serde::Deserialize;
use wire::ids::MaterialId;
use wire::materials::{MaterialQuery, MaterialSummary};
use wire::people::Role;

use crate::answer::page;
use crate::facts::{self, Caution, Fact};
use crate::frame::Frame;
use crate::mount::Mount;
use crate::texts::t;
use crate::trouble::Trouble;
use crate::visitor::Visitor;

pub(super) fn routes(mount: &mut impl Mount) {
    mount.get("/materials", list);
    mount.get("/materials/import", import::form);
    mount.post("/materials/import", import::import);
    mount.get("/materials/{id}", material);
    mount.get("/materials/{id}/amend", amend::form);
    mount.post("/materials/{id}/amend", amend::amend);
    mount.get("/amendments/{id}", amendment::read);
    mount.post("/amendments/{id}", amendment::decide);
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
