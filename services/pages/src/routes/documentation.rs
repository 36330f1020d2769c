//! The documentation for whoever builds a tool or looks something up: a list by what people want to do, and a page for each
//! operation.

use actix_web::http::StatusCode;
use actix_web::web::{Data, Path, Query};
use actix_web::{HttpRequest, HttpResponse};
use askama::Template;
use serde::Deserialize;

use crate::answer::page;
use crate::documented::{self, Operation};
use crate::frame::Frame;
use crate::mount::Mount;
use crate::routes::problems::frame;
use crate::state::Pages;
use crate::texts::t;
use crate::trouble::Trouble;

pub(super) fn routes(mount: &mut impl Mount) {
    mount.get("/documentation", list);
    mount.get("/documentation/{operation}", one);
}

#[derive(Default, Deserialize)]
#[serde(default)]
struct Asked {
    q: String,
}

struct Group<'a> {
    id: &'static str,
    name: String,
    operations: Vec<&'a Operation>,
}

#[derive(Template)]
#[template(path = "documentation.html")]
struct ListPage<'a> {
    frame: Frame,
    q: String,
    groups: Vec<Group<'a>>,
    problems: Vec<(&'static str, u16, String)>,
}

#[derive(Template)]
#[template(path = "operation.html")]
struct OperationPage<'a> {
    frame: Frame,
    one: &'a Operation,
}

async fn list(
    request: HttpRequest,
    pages: Data<Pages>,
    asked: Query<Asked>,
) -> Result<HttpResponse, Trouble> {
    let words: Vec<String> = asked.q.split_whitespace().map(str::to_lowercase).collect();
    let all = pages.operations();
    let groups = documented::groups().map(|(id, name)| Group {
        id,
        name,
        operations: all.iter().filter(|one| one.group == id && one.has(&words)).collect(),
    });
    let frame = frame(&request, &pages, t("docs-title")).await.with("follow.js");
    let groups = groups.filter(|group| !group.operations.is_empty()).collect();
    let problems = documented::problems(&words);
    page(StatusCode::OK, &ListPage { frame, q: asked.q.clone(), groups, problems })
}

async fn one(request: HttpRequest, pages: Data<Pages>, id: Path<String>) -> Result<HttpResponse, Trouble> {
    let one = pages.operations().iter().find(|one| one.id == *id).ok_or(Trouble::NoPage)?;
    let frame = frame(&request, &pages, one.summary.clone()).await;
    page(StatusCode::OK, &OperationPage { frame, one })
}
