//! An amendment: what it changes, whom it reaches, and a second instructor's decision.

use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use actix_web::web::{Path, Query};
use askama::Template;
use clinic::{amendments, overview};
use serde::Deserialize;
use wire::amendments::{AffectedRevision, Amendment, AmendmentState, DecideAmendment};
use wire::ids::{AmendmentId, PersonId};
use wire::page::PageQuery;
use wire::people::Role;

use crate::answer::{page, to};
use crate::form::Form;
use crate::frame::Frame;
use crate::texts::{t, t2};
use crate::trouble::Trouble;
use crate::visitor::Visitor;

/// Where the list of what it reaches goes on.
#[derive(Default, Deserialize)]
#[serde(default)]
pub(super) struct Asked {
    after: String,
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

pub(super) async fn read(
    visitor: Visitor,
    id: Path<String>,
    asked: Query<Asked>,
) -> Result<HttpResponse, Trouble> {
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

pub(super) async fn decide(visitor: Visitor, id: Path<String>, form: Form) -> Result<HttpResponse, Trouble> {
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
