//! Who did what, the newest first.

use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use actix_web::web::Query;
use askama::Template;
use clinic::journal::Verdict;
use clinic::{journal, named_records, overview, people};
use serde::Deserialize;
use uuid::Uuid;
use wire::ids::PersonId;
use wire::journal::EventQuery;
use wire::page::PageQuery;
use wire::people::Person;

use crate::answer::page;
use crate::form::Form;
use crate::frame::Frame;
use crate::mount::Mount;
use crate::texts::{t, t1, t2};
use crate::trouble::Trouble;
use crate::visitor::Visitor;

pub(super) fn routes(mount: &mut impl Mount) {
    mount.get("/events", events);
    mount.post("/events/verify", verify);
}

#[derive(Default, Deserialize)]
#[serde(default)]
struct Asked {
    actor: String,
    subject: String,
    before: String,
}

struct Told {
    time: String,
    who: String,
    what: String,
    subject: String,
    kind: String,
    /// The name of the record, where the reader may see it.
    name: String,
}

/// What came of verifying the journal.
struct Verified {
    said: String,
    breaks: Vec<String>,
    /// What was looked at, and how many of it.
    counts: Vec<(String, u64)>,
}

fn verified(verdict: &Verdict) -> Verified {
    let said = match verdict.breaks.total() {
        0 => t2("journal-holds", verdict.events.to_string(), verdict.chains.to_string()),
        breaks => t1("journal-breaks", breaks.to_string()),
    };
    let named = |(name, count): (&&str, &u64)| (name.replace('_', " "), *count);
    let mut counts: Vec<_> = verdict.rows.iter().chain(&verdict.checks).map(named).collect();
    counts.push((t("journal-order"), verdict.numbered));
    counts.push((t("journal-removed"), verdict.removed));
    counts.push((t("journal-older"), verdict.older.digests));
    Verified { said, breaks: verdict.breaks.listed().to_vec(), counts }
}

#[derive(Template)]
#[template(path = "events.html")]
struct EventsPage {
    frame: Frame,
    events: Vec<Told>,
    next: String,
    people: Vec<Person>,
    asked: Asked,
    verdict: Option<Verified>,
}

async fn events(visitor: Visitor, asked: Query<Asked>) -> Result<HttpResponse, Trouble> {
    events_page(&visitor, asked.into_inner(), None).await
}

async fn events_page(
    visitor: &Visitor,
    asked: Asked,
    verdict: Option<Verified>,
) -> Result<HttpResponse, Trouble> {
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let query = EventQuery {
        subject: asked.subject.trim().parse().ok(),
        actor: asked.actor.parse().ok(),
        limit: Some(50),
        after: None,
    };
    let mut found = journal::newest(clinic, credentials, &query, asked.before.parse().ok()).await?;
    let more = found.len() > 50;
    found.truncate(50);
    let next = match found.last().filter(|_| more) {
        Some(last) => format!("/events?actor={}&subject={}&before={}", asked.actor, asked.subject, last.id),
        None => String::new(),
    };
    let ids: Vec<PersonId> =
        found.iter().filter_map(|event| event.actor).map(|actor| PersonId(actor.0)).collect();
    let names = overview::names(clinic, credentials, &ids).await?;
    let subjects: Vec<Uuid> = found.iter().map(|event| event.subject).collect();
    let records = named_records::records(clinic, credentials, &subjects).await?;
    let frame = visitor.frame(t("events-title")).with("forms.js");
    let events = found
        .into_iter()
        .map(|event| Told {
            time: frame.when(&event.at),
            who: event
                .actor
                .and_then(|actor| names.iter().find(|(id, _)| id.0 == actor.0))
                .map_or_else(|| t("events-service"), |(_, name)| name.clone()),
            what: event.action.replace('_', " "),
            subject: event.subject.to_string(),
            kind: event.subject_kind.replace('_', " "),
            name: records
                .iter()
                .find(|(id, _)| *id == event.subject)
                .map(|(_, name)| name.clone())
                .unwrap_or_default(),
        })
        .collect();
    let people =
        people::people(clinic, credentials, &PageQuery { limit: Some(100), after: None }).await?.items;
    page(StatusCode::OK, &EventsPage { frame, events, next, people, asked, verdict })
}

async fn verify(visitor: Visitor, _form: Form) -> Result<HttpResponse, Trouble> {
    // Only an administrator reads events, so only an administrator has them verified.
    let one = EventQuery { subject: None, actor: None, limit: Some(1), after: None };
    journal::newest(visitor.clinic(), visitor.credentials(), &one, None).await?;
    let verdict = journal::verify(visitor.clinic()).await?;
    events_page(&visitor, Asked::default(), Some(verified(&verdict))).await
}
