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
    CloseRecall, JarOutcome, NewJarOutcomes, NewRecallOutcome, Recall, RecallItem, RecallJar, RecallOutcome,
    RecallQuery, RecallState, RecallSummary, TraceNode,
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
    /// Whether it is about jars of the item, and which were chosen.
    of_jars: bool,
    jars: Vec<u32>,
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
    jar_outcomes: Vec<(JarOutcome, String)>,
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

    /// Where a jar went, and what came of it.
    fn jar(&self, jar: &RecallJar) -> String {
        let went = match (&jar.reference, jar.handed_on) {
            (Some(reference), Some(day)) => t2("recall-jar-went", reference.clone(), self.frame.day(&day)),
            _ => t("recall-jar-here"),
        };
        let back = if jar.returned { t("recall-jar-back") } else { String::new() };
        let account = jar.accounted.as_ref();
        let came = account.and_then(|account| {
            let words = self.jar_outcomes.iter().find(|(one, _)| *one == account.outcome)?;
            Some(format!("{}. {}", words.1, account.note.clone().unwrap_or_default()))
        });
        [went, back, came.unwrap_or_default()].join(" ").trim().to_owned()
    }

    /// What was typed of the jars of an item, where it was not accepted.
    fn typed_jars(&self, item: u32) -> Option<&Typed> {
        Some(&self.typed).filter(|typed| typed.of_jars && typed.item == item)
    }

    fn jar_cures(&self, item: u32) -> &[String] {
        self.typed_jars(item).map_or(&[], |typed| &typed.cures)
    }

    fn jar_note(&self, item: u32) -> &str {
        self.typed_jars(item).map_or("", |typed| &typed.note)
    }

    fn jar_chosen(&self, item: u32, jar: u32) -> bool {
        self.typed_jars(item).is_some_and(|typed| typed.jars.contains(&jar))
    }

    fn jar_outcome_chosen(&self, item: u32, outcome: JarOutcome) -> bool {
        self.typed_jars(item).is_some_and(|typed| typed.outcome == outcome.as_str())
    }

    /// How many jars of an item nobody has accounted for.
    fn open_jars(&self, item: &RecallItem) -> usize {
        item.jars.iter().filter(|jar| jar.accounted.is_none()).count()
    }

    /// Who accounted for it, and when.
    fn accounted(&self, item: &RecallItem) -> String {
        let Some(account) = &item.accounted else { return String::new() };
        t2("recall-accounted-by", account.by_name.clone().unwrap_or_default(), self.frame.when(&account.at))
    }

    fn cures(&self, item: u32) -> &[String] {
        if self.typed.item == item && !self.typed.of_jars { &self.typed.cures } else { &[] }
    }

    fn note(&self, item: u32) -> &str {
        if self.typed.item == item && !self.typed.of_jars { &self.typed.note } else { "" }
    }

    fn chosen(&self, item: &RecallItem, outcome: RecallOutcome) -> bool {
        if self.typed.item == item.item && !self.typed.of_jars {
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
    let words = |one: &str| t(&format!("recall-outcome-{}", one.replace('_', "-")));
    let open = recall.summary.state == RecallState::Open;
    let page_of = DeskPage {
        stands: progress(&frame, &recall.summary),
        outcomes: RecallOutcome::ALL.iter().map(|one| (*one, words(one.as_str()))).collect(),
        jar_outcomes: JarOutcome::ALL.iter().map(|one| (*one, words(one.as_str()))).collect(),
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
    let of_jars = form.text("act") == "jars";
    let jars: Vec<u32> = form.all("jar").iter().filter_map(|number| number.parse().ok()).collect();
    let done = if form.text("act") == "close" {
        let request = CloseRecall { reason: form.given("note") };
        recalls::close(clinic, credentials, &once, id, &request).await
    } else if of_jars {
        let outcome = form.text("outcome").parse().map_err(|_| Trouble::Malformed)?;
        let request = NewJarOutcomes { item, jars: jars.clone(), outcome, note: form.given("note") };
        recalls::account_jars(clinic, credentials, &once, id, &request).await
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
            let (outcome, note) = (form.text("outcome"), form.text("note"));
            let typed = Typed { item, of_jars, jars, outcome, note, cures };
            shown(&visitor, id, StatusCode::UNPROCESSABLE_ENTITY, typed).await
        }
    }
}
