//! The cases of reactions, the newest first.

use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use actix_web::web::Query;
use askama::Template;
use clinic::reactions;
use serde::Deserialize;
use wire::reactions::{ReactionCaseSummary, ReactionQuery};

use super::case::stands;
use crate::answer::page;
use crate::frame::Frame;
use crate::mount::Mount;
use crate::texts::t;
use crate::trouble::Trouble;
use crate::visitor::Visitor;

pub(super) fn routes(mount: &mut impl Mount) {
    mount.get("/reactions", list);
}

#[derive(Default, Deserialize)]
#[serde(default)]
struct Asked {
    after: String,
}

#[derive(Template)]
#[template(path = "reactions.html")]
struct ListPage {
    frame: Frame,
    cases: Vec<ReactionCaseSummary>,
    next: String,
}

impl ListPage {
    fn stands(&self, case: &ReactionCaseSummary) -> String {
        stands(case.state)
    }
}

async fn list(visitor: Visitor, asked: Query<Asked>) -> Result<HttpResponse, Trouble> {
    let after = Some(asked.after.clone()).filter(|after| !after.is_empty());
    let query = ReactionQuery { state: None, limit: Some(50), after };
    let found = reactions::cases(visitor.clinic(), visitor.credentials(), &query).await?;
    let next = found.next.map(|next| {
        format!("/reactions?{}", serde_urlencoded::to_string([("after", next)]).unwrap_or_default())
    });
    let frame = visitor.frame(t("reactions-title"));
    page(StatusCode::OK, &ListPage { frame, cases: found.items, next: next.unwrap_or_default() })
}
