//! The recall desk: everything that was recalled, each accounted for.

use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use actix_web::web::{Path, Query};
use askama::Template;
use clinic::recalls;
use serde::Deserialize;
use wire::ids::RecallId;
use wire::people::Role;
use wire::recalls::{
    CloseRecall, NewRecallOutcome, Recall, RecallItem, RecallOutcome, RecallQuery, RecallState,
    RecallSummary, TraceNode,
};

use super::said::{address, stands};
use crate::answer::{page, to};
use crate::form::{self, Form};
use crate::frame::Frame;
use crate::mount::Mount;
use crate::texts::{t, t2};
use crate::trouble::Trouble;
use crate::visitor::Visitor;

pub(super) fn routes(mount: &mut impl Mount) {
    mount.get("/recalls", list);
    mount.get("/recalls/{id}", desk);
    mount.post("/recalls/{id}", act);
}

#[derive(Default, Deserialize)]
#[serde(default)]
struct Asked {
    after: String,
}

#[derive(Template)]
#[template(path = "recalls.html")]
struct ListPage {
    frame: Frame,
    recalls: Vec<RecallSummary>,
    next: String,
}

impl ListPage {
    fn stands(&self, recall: &RecallSummary) -> String {
        progress(&self.frame, recall)
    }
}

/// How far a recall is.
fn progress(frame: &Frame, recall: &RecallSummary) -> String {
    match (recall.state, recall.unaccounted) {
        (RecallState::Closed, _) => t("recall-closed"),
        (RecallState::Open, 0) => t("recall-accounted"),
        (RecallState::Open, some) => frame.count("recall-unaccounted", some),
    }
}

async fn list(visitor: Visitor, asked: Query<Asked>) -> Result<HttpResponse, Trouble> {
    let after = Some(asked.after.clone()).filter(|after| !after.is_empty());
    let query = RecallQuery { state: None, limit: Some(50), after };
    let found = recalls::recalls(visitor.clinic(), visitor.credentials(), &query).await?;
    let next = found.next.map(|next| {
        format!("/recalls?{}", serde_urlencoded::to_string([("after", next)]).unwrap_or_default())
    });
    let frame = visitor.frame(t("recalls-title"));
    page(StatusCode::OK, &ListPage { frame, recalls: found.items, next: next.unwrap_or_default() })
}

/// What was typed into a form of the desk, and what was not accepted.
#[derive(Default)]
struct Typed {
    /// The item, or 0 for closing.
    item: u32,
    outcome: String,
    note: String,
    cures: Vec<String>,
}

#[derive(Template)]
#[template(path = "recall.html")]
struct DeskPage {
    frame: Frame,
    recall: Recall,
    stands: String,
    outcomes: Vec<(RecallOutcome, String)>,
    open: bool,
    closes: bool,
    typed: Typed,
    once: String,
}

impl DeskPage {
    fn address(&self, node: &TraceNode) -> String {
        address(node)
    }

    fn stands_so(&self, node: &TraceNode) -> String {
        stands(node)
    }

    fn outcome(&self, outcome: RecallOutcome) -> String {
        self.outcomes
            .iter()
            .find(|(one, _)| *one == outcome)
            .map(|(_, words)| words.clone())
            .unwrap_or_default()
    }

    /// Who accounted for it, and when.
    fn accounted(&self, item: &RecallItem) -> String {
        let Some(account) = &item.accounted else { return String::new() };
        t2("recall-accounted-by", account.by_name.clone().unwrap_or_default(), self.frame.when(&account.at))
    }

    fn cures(&self, item: u32) -> &[String] {
        if self.typed.item == item { &self.typed.cures } else { &[] }
    }

    fn note(&self, item: u32) -> &str {
        if self.typed.item == item { &self.typed.note } else { "" }
    }

    fn chosen(&self, item: &RecallItem, outcome: RecallOutcome) -> bool {
        if self.typed.item == item.item {
            return self.typed.outcome == outcome.as_str();
        }
        item.accounted.as_ref().is_some_and(|account| account.outcome == outcome)
    }
}

async fn desk(visitor: Visitor, id: Path<String>) -> Result<HttpResponse, Trouble> {
    let id: RecallId = id.parse().map_err(|_| Trouble::NoPage)?;
    shown(&visitor, id, StatusCode::OK, Typed::default()).await
}

async fn shown(
    visitor: &Visitor,
    id: RecallId,
    status: StatusCode,
    typed: Typed,
) -> Result<HttpResponse, Trouble> {
    let recall = recalls::recall(visitor.clinic(), visitor.credentials(), id).await?;
    let frame = visitor.frame(recall.summary.cause_name.clone()).with("forms.js");
    // word("recall-outcome")
    let words = |one: &RecallOutcome| t(&format!("recall-outcome-{}", one.as_str().replace('_', "-")));
    let open = recall.summary.state == RecallState::Open;
    let page_of = DeskPage {
        stands: progress(&frame, &recall.summary),
        outcomes: RecallOutcome::ALL.iter().map(|one| (*one, words(one))).collect(),
        open,
        closes: open && visitor.role() == Role::Instructor,
        typed,
        once: visitor.pages().once(),
        recall,
        frame,
    };
    page(status, &page_of)
}

async fn act(visitor: Visitor, id: Path<String>, form: Form) -> Result<HttpResponse, Trouble> {
    let id: RecallId = id.parse().map_err(|_| Trouble::NoPage)?;
    let once = form.once(&format!("POST /recalls/{id}"))?;
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let item = form.text("item").parse().unwrap_or_default();
    let done = if form.text("act") == "close" {
        let request = CloseRecall { reason: form.given("note") };
        recalls::close(clinic, credentials, &once, id, &request).await
    } else {
        let outcome = form.text("outcome").parse().map_err(|_| Trouble::Malformed)?;
        let request = NewRecallOutcome { item, outcome, note: form.given("note") };
        recalls::account(clinic, credentials, &once, id, &request).await
    };
    match done {
        Ok(_) if item == 0 => Ok(to(&format!("/recalls/{id}"))),
        Ok(_) => Ok(to(&format!("/recalls/{id}#item-{item}"))),
        Err(error) => {
            let cures = form::faults(error)?.into_iter().map(|(_, cure)| cure).collect();
            let typed = Typed { item, outcome: form.text("outcome"), note: form.text("note"), cures };
            shown(&visitor, id, StatusCode::UNPROCESSABLE_ENTITY, typed).await
        }
    }
}
