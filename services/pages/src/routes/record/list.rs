//! The list of batches.

use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use actix_web::web::Query;
use askama::Template;
use clinic::overview::{self, BatchInHand};
use serde::Deserialize;
use wire::bench::BatchState;
use wire::people::Role;

use crate::answer::page;
use crate::frame::Frame;
use crate::texts::t;
use crate::trouble::Trouble;
use crate::visitor::Visitor;

/// Which batches, as the address says.
#[derive(Default, Deserialize)]
#[serde(default)]
pub(super) struct Asked {
    whose: String,
    state: String,
    before: String,
}

struct Choice {
    value: &'static str,
    words: String,
    chosen: bool,
}

#[derive(Template)]
#[template(path = "batches.html")]
struct ListPage {
    frame: Frame,
    batches: Vec<(BatchInHand, String)>,
    next: String,
    states: Vec<Choice>,
    instructor: bool,
    all: bool,
}

/// A state as people say it.
fn state_word(state: BatchState) -> String {
    // word("state")
    t(&format!("state-{}", state.as_str()))
}

pub(super) async fn list(visitor: Visitor, asked: Query<Asked>) -> Result<HttpResponse, Trouble> {
    let asked = asked.into_inner();
    let state: Option<BatchState> = asked.state.parse().ok();
    let instructor = visitor.role() == Role::Instructor;
    let all = instructor && asked.whose != "mine";
    let mut found =
        overview::batch_list(visitor.clinic(), visitor.credentials(), !all, state, asked.before.parse().ok())
            .await?;
    let more = found.len() > overview::PAGE;
    found.truncate(overview::PAGE);
    let next = match found.last().filter(|_| more) {
        Some(last) => format!("/batches?whose={}&state={}&before={}", asked.whose, asked.state, last.id),
        None => String::new(),
    };
    let states = BatchState::ALL
        .iter()
        .map(|one| Choice { value: one.as_str(), words: state_word(*one), chosen: state == Some(*one) })
        .collect();
    let batches = found.into_iter().map(|batch| (batch.clone(), state_word(batch.state))).collect();
    let frame = visitor.frame(t("batches-title"));
    page(StatusCode::OK, &ListPage { frame, batches, next, states, instructor, all })
}
