//! Recalling: what it would reach, why, and the act.

use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use actix_web::web::Query;
use askama::Template;
use clinic::recalls;
use serde::Deserialize;
use uuid::Uuid;
use wire::recalls::{NewRecall, RecallCause, TraceNode};

use super::said::{address, stands};
use crate::answer::{page, to};
use crate::form::{self, Form};
use crate::frame::Frame;
use crate::mount::Mount;
use crate::texts::t;
use crate::trouble::Trouble;
use crate::visitor::Visitor;

pub(super) fn routes(mount: &mut impl Mount) {
    mount.get("/recall", offered);
    mount.post("/recall", start);
}

#[derive(Default, Deserialize)]
#[serde(default)]
struct Asked {
    cause: String,
    id: String,
    /// Why, as the page that led here says it.
    reason: String,
}

impl Asked {
    fn parse(&self) -> Result<(RecallCause, Uuid), Trouble> {
        let cause = self.cause.parse().map_err(|_| Trouble::NoPage)?;
        Ok((cause, self.id.parse().map_err(|_| Trouble::NoPage)?))
    }
}

#[derive(Template)]
#[template(path = "recall_start.html")]
struct StartPage {
    frame: Frame,
    cause: RecallCause,
    id: Uuid,
    says: String,
    reached: Vec<TraceNode>,
    /// Why nothing can be recalled.
    none: String,
    reason: String,
    cures: Vec<(String, String)>,
    once: String,
}

impl StartPage {
    fn address(&self, node: &TraceNode) -> String {
        address(node)
    }

    fn stands(&self, node: &TraceNode) -> String {
        stands(node)
    }
}

async fn offered(visitor: Visitor, asked: Query<Asked>) -> Result<HttpResponse, Trouble> {
    visitor.only_instructors()?;
    let (cause, id) = asked.parse()?;
    let reason = asked.reason.chars().take(1000).collect();
    shown(&visitor, (cause, id), StatusCode::OK, reason, Vec::new()).await
}

async fn shown(
    visitor: &Visitor,
    (cause, id): (RecallCause, Uuid),
    status: StatusCode,
    reason: String,
    cures: Vec<(String, String)>,
) -> Result<HttpResponse, Trouble> {
    let (reached, none) = match recalls::reach(visitor.clinic(), visitor.credentials(), cause, id).await {
        Ok(reached) => (reached, String::new()),
        Err(clinic::Error::Invalid(errors)) => {
            (Vec::new(), errors.into_iter().map(|error| error.detail).collect::<Vec<_>>().join(" "))
        }
        Err(other) => return Err(other.into()),
    };
    let page_of = StartPage {
        frame: visitor.frame(t("recall-title")).with("forms.js"),
        cause,
        id,
        // word("recall-cause")
        says: t(&format!("recall-cause-{cause}")),
        reached,
        none,
        reason,
        cures,
        once: visitor.pages().once(),
    };
    page(status, &page_of)
}

async fn start(visitor: Visitor, form: Form) -> Result<HttpResponse, Trouble> {
    let asked = Asked { cause: form.text("cause"), id: form.text("id"), reason: String::new() };
    let (cause, id) = asked.parse()?;
    let once = form.once("POST /recall")?;
    let request = NewRecall { cause, id, reason: form.text("reason") };
    match recalls::start(visitor.clinic(), visitor.credentials(), &once, &request).await {
        Ok(started) => Ok(to(&format!("/recalls/{}", started.summary.id))),
        Err(error) => {
            let cures = form::faults(error)?;
            shown(&visitor, (cause, id), StatusCode::UNPROCESSABLE_ENTITY, request.reason, cures).await
        }
    }
}
