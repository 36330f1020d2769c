//! Two revisions of a formula side by side.

use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use actix_web::web::{Data, Path, Query};
use askama::Template;
use clinic::{Detail, Reader, formulary, recipes};
use serde::Deserialize;
use wire::formulary::{FormulaContent, Revision, RevisionState};
use wire::ids::RevisionId;
use wire::recipe::MakeFor;

use crate::answer::page;
use crate::frame::Frame;
use crate::mount::Mount;
use crate::notebook::{Compared, all_of, compare, lines_of};
use crate::routes::formula;
use crate::shown::shown;
use crate::texts::t2;
use crate::trouble::Trouble;
use crate::visitor::Visitor;

pub(super) fn routes(mount: &mut impl Mount) {
    mount.get("/revisions/{id}/compare", compare_page);
}

/// With which other revision.
#[derive(Default, Deserialize)]
#[serde(default)]
struct Asked {
    with: String,
}

#[derive(Template)]
#[template(path = "compare.html")]
struct ComparePage {
    frame: Frame,
    title: String,
    said: String,
    is: (RevisionId, u32),
    changed: Vec<Compared>,
    same: usize,
}

/// A revision as lines; or the page on which its cautions are read first.
async fn read(
    visitor: &Visitor,
    reader: &Reader,
    revision: &Revision,
    then: &str,
) -> Result<Result<Vec<String>, HttpResponse>, Trouble> {
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    if revision.state == RevisionState::Draft {
        let draft = formulary::draft(clinic, credentials, revision.id).await?;
        let mut content: FormulaContent = shown(&draft.value)?;
        // What a recipe does not tell is left out on both sides.
        (content.yield_, content.used_daily) = (None, None);
        content.cautions.clear();
        return Ok(Ok(all_of(&content)));
    }
    let own = MakeFor::default();
    match recipes::recipe(clinic, reader, credentials, revision.id, &own, Detail::Brief).await {
        Ok(released) => Ok(Ok(lines_of(&shown(&released)?))),
        Err(clinic::Error::GateClosed(outstanding)) => {
            Ok(Err(formula::gate(visitor, &outstanding, then.to_owned()).await?))
        }
        Err(other) => Err(other.into()),
    }
}

async fn compare_page(
    visitor: Visitor,
    reader: Data<Reader>,
    id: Path<String>,
    asked: Query<Asked>,
) -> Result<HttpResponse, Trouble> {
    let id: RevisionId = id.parse().map_err(|_| Trouble::NoPage)?;
    let with: RevisionId = asked.with.parse().map_err(|_| Trouble::NoPage)?;
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let is = formulary::revision(clinic, credentials, id).await?.value;
    let was = formulary::revision(clinic, credentials, with).await?.value;
    if is.formula != was.formula {
        return Err(Trouble::NoPage);
    }
    let mut sides = Vec::new();
    for revision in [&was, &is] {
        // Reading leads to pages of the revision that is read, so the address names it first.
        let other = if revision.id == is.id { was.id } else { is.id };
        let then = format!("/revisions/{}/compare?with={other}", revision.id);
        match read(&visitor, &reader, revision, &then).await? {
            Ok(lines) => sides.push(lines),
            Err(gate) => return Ok(gate),
        }
    }
    let [was_lines, is_lines] = sides.as_slice() else { return Err(Trouble::NoPage) };
    // The older one stands left, whichever the address names first.
    let newer = is.number >= was.number;
    let (changed, same) = if newer { compare(was_lines, is_lines) } else { compare(is_lines, was_lines) };
    let (older, newest) = if newer { (&was, &is) } else { (&is, &was) };
    let frame = visitor.frame(newest.title.clone()).on_desk();
    page(
        StatusCode::OK,
        &ComparePage {
            title: newest.title.clone(),
            said: t2("compared-said", i64::from(older.number), i64::from(newest.number)),
            is: (newest.id, newest.number),
            changed,
            same,
            frame,
        },
    )
}
