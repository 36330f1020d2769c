//! Batch records: the list, the record for its maker, handing it in, and the review.

mod list;
mod read;
mod review;

use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use actix_web::web::Path;
use askama::Template;
use clinic::bench;
use clinic::work::{self, CountsFor};
use wire::bench::{BatchRecord, BatchState, Submit};
use wire::holds::NewHoldRelease;
use wire::ids::BatchId;
use wire::people::Role;

use crate::acts::{self, Act};
use crate::answer::{page, to};
use crate::figures::spelled;
use crate::form::{self, Form};
use crate::frame::Frame;
use crate::mount::Mount;
use crate::reading;
use crate::routes::appealed;
use crate::routes::bench::long_work::paused;
use crate::routes::formula;
use crate::routes::jars::has_jars;
use crate::routes::jars::observing::brought_forward;
use crate::routes::marking::{self, ReadMark};
use crate::routes::photographs::{self, Shown};
use crate::routes::shelf::made::can_be_shelved;
use crate::routes::shelf::reserve::can_reserve;
use crate::texts::{t, t1};
use crate::trouble::Trouble;
use crate::visitor::Visitor;
use list::list;
pub(super) use read::{Made, Row, missing, product};
use read::{Submission, made, read, state_of, submissions};
use review::{review, review_page};

pub(super) fn routes(mount: &mut impl Mount) {
    mount.get("/batches", list);
    mount.get("/batches/{id}", record);
    mount.post("/batches/{id}/submissions", submit);
    mount.post("/batches/{id}/abandon", abandon);
    mount.post("/batches/{id}/hold-releases", release);
    mount.get("/batches/{id}/review", review_page);
    mount.post("/batches/{id}/reviews", review);
}

/// A hold that is done and that nobody has released.
struct Waiting {
    step: u32,
    title: String,
    once: String,
}

#[derive(Template)]
#[template(path = "record.html")]
struct RecordPage {
    frame: Frame,
    id: BatchId,
    number: String,
    title: String,
    state: String,
    made_for: String,
    maker: String,
    writable: bool,
    returned: bool,
    can_review: bool,
    /// Whether what it made can be put on the shelf.
    can_shelve: bool,
    /// Whether its jars have a page.
    has_jars: bool,
    /// Who keeps the stock sees what it was made of.
    staff: bool,
    /// Whether lots can be reserved for it.
    can_reserve: bool,
    /// What it counts for or can count for.
    works: Vec<CountsFor>,
    /// The mark, once there is a verdict.
    mark: Option<ReadMark>,
    may_change_mark: bool,
    look: Vec<Row>,
    asked: Vec<Row>,
    missing: Vec<Act>,
    /// The holds that nobody has released.
    holds: Vec<Waiting>,
    may_release: bool,
    may_hand_over: bool,
    /// Everybody who made it, where it was handed over, in a sentence.
    makers: String,
    hold_fault: String,
    /// What is found of the checks before the start.
    checks: Vec<String>,
    made: Vec<Made>,
    photographs: Vec<Shown>,
    submissions: Vec<Submission>,
    once: String,
    answer: String,
    answer_cure: String,
    changed: String,
    /// Until when it is paused, in a sentence; empty where it is not.
    paused: String,
    /// What can be said of an appeal, and why one was refused.
    appeal_reasons: Vec<(String, String)>,
    appeal_cure: String,
    /// What the evaporation raises beside the acknowledged cautions.
    by_loss: Vec<String>,
}

impl RecordPage {
    /// The assignment that it was handed in for.
    fn counts(&self) -> Option<&CountsFor> {
        self.works.iter().find(|work| work.counts)
    }
}

async fn record(visitor: Visitor, id: Path<String>) -> Result<HttpResponse, Trouble> {
    let id: BatchId = id.parse().map_err(|_| Trouble::NoPage)?;
    record_page(&visitor, id, StatusCode::OK, Refused::default()).await
}

/// What was not accepted on the page of a record.
#[derive(Default)]
struct Refused {
    answer: String,
    answer_cure: String,
    hold_fault: String,
    appeal_cure: String,
}

/// The record, with why an appeal was refused.
pub(super) async fn appeal_refused(
    visitor: &Visitor,
    id: BatchId,
    appeal_cure: String,
) -> Result<HttpResponse, Trouble> {
    let refused = Refused { appeal_cure, ..Refused::default() };
    record_page(visitor, id, StatusCode::UNPROCESSABLE_ENTITY, refused).await
}

/// Who made a batch that was handed over, in a sentence; empty where one person made it.
fn makers(record: &BatchRecord) -> String {
    let names: Vec<String> = record.makers.iter().filter_map(|one| one.name.clone()).collect();
    if names.is_empty() { String::new() } else { t1("record-makers", names.join(", ")) }
}

async fn record_page(
    visitor: &Visitor,
    id: BatchId,
    status: StatusCode,
    refused: Refused,
) -> Result<HttpResponse, Trouble> {
    let mut frame = visitor.frame(String::new()).with("forms.js");
    let read = match read(visitor, &frame, id).await {
        Err(Trouble::Clinic(clinic::Error::GateClosed(outstanding))) => {
            return formula::gate(visitor, &outstanding, format!("/batches/{id}")).await;
        }
        other => other?,
    };
    let own = read.record.summary.maker == visitor.person().id;
    let had_it = own || read.record.makers.iter().any(|one| one.person == visitor.person().id);
    let works = match own && visitor.role() == Role::Student {
        true => work::counts_for(visitor.clinic(), visitor.credentials(), id).await?,
        false => Vec::new(),
    };
    let mark = marking::read_mark(visitor, &frame, &read.record).await?;
    let state = state_of(&frame, &read, own);
    let (submissions, mut made) = (submissions(&frame, &read), made(&frame, &read.record));
    if has_jars(&read.record) {
        // What binds stands first; what was worked out from the weighings stays beside it.
        let bound = brought_forward(visitor, &frame, id).await?;
        let row = bound.map(|(value, sentence)| Made { name: t("last-day-now"), value, sentence });
        made.splice(0..0, row);
    }
    let (maker, unnamed) = (read.maker(), read.is_unnamed());
    let record = read.record;
    frame.title = format!("{} {}", record.summary.title, record.summary.number);
    let state_now = record.summary.state;
    let waiting = read.rows.iter().filter(|row| row.act.waits());
    let holds = waiting
        .map(|row| Waiting { step: row.act.step, title: row.act.title.clone(), once: visitor.pages().once() })
        .collect();
    let (look, rest): (Vec<Row>, Vec<Row>) =
        read.rows.into_iter().partition(|row| row.act.is_written() && row.stands_out());
    let (asked, missing): (Vec<Row>, Vec<Row>) = rest.into_iter().partition(|row| row.act.is_written());
    let page_of = RecordPage {
        id,
        number: record.summary.number.clone(),
        title: record.summary.title.clone(),
        state,
        made_for: spelled(&record.recipe.made_for),
        maker,
        writable: matches!(state_now, BatchState::Planned | BatchState::Making | BatchState::Returned) && own,
        returned: state_now == BatchState::Returned,
        can_review: visitor.role() == Role::Instructor && state_now == BatchState::Submitted && !had_it,
        can_shelve: can_be_shelved(&record),
        has_jars: has_jars(&record),
        staff: visitor.role() != wire::people::Role::Student,
        can_reserve: can_reserve(state_now, own),
        works,
        mark,
        may_change_mark: visitor.role() == Role::Instructor && !had_it,
        look,
        asked,
        missing: missing.into_iter().map(|row| row.act).filter(|act| !act.is_offered()).collect(),
        holds,
        may_release: visitor.role() == Role::Instructor && !had_it,
        may_hand_over: (own || visitor.role() == Role::Instructor)
            && !unnamed
            && matches!(state_now, BatchState::Planned | BatchState::Making | BatchState::Returned),
        makers: makers(&record),
        checks: acts::checks(&record),
        made,
        photographs: photographs::strip(visitor, &frame, id).await?,
        submissions,
        once: visitor.pages().once(),
        answer: refused.answer,
        answer_cure: refused.answer_cure,
        hold_fault: refused.hold_fault,
        appeal_reasons: appealed::reasons(),
        appeal_cure: refused.appeal_cure,
        paused: paused(&frame, &record),
        changed: record.caution_change.clone().unwrap_or_default(),
        by_loss: reading::by_loss(&record.recipe.caution_set, record.as_made.as_deref()),
        frame,
    };
    page(status, &page_of)
}

async fn submit(visitor: Visitor, id: Path<String>, form: Form) -> Result<HttpResponse, Trouble> {
    let id: BatchId = id.parse().map_err(|_| Trouble::NoPage)?;
    let once = form.once(&format!("POST /batches/{id}/submissions"))?;
    let request = Submit { answer: form.given("answer") };
    match bench::submit(visitor.clinic(), visitor.credentials(), &once, id, &request).await {
        // Handed in already, perhaps from another window: the record says so.
        Ok(_) | Err(clinic::Error::State { .. } | clinic::Error::KeyReused) => {
            Ok(to(&format!("/batches/{id}")))
        }
        Err(clinic::Error::Invalid(errors)) => {
            let cure = errors.into_iter().map(|error| error.detail).collect::<Vec<_>>().join(" ");
            let refused = Refused { answer: form.text("answer"), answer_cure: cure, ..Refused::default() };
            record_page(&visitor, id, StatusCode::UNPROCESSABLE_ENTITY, refused).await
        }
        Err(clinic::Error::GateClosed(outstanding)) => {
            formula::gate(&visitor, &outstanding, format!("/batches/{id}")).await
        }
        Err(other) => Err(other.into()),
    }
}

async fn abandon(visitor: Visitor, id: Path<String>, form: Form) -> Result<HttpResponse, Trouble> {
    let id: BatchId = id.parse().map_err(|_| Trouble::NoPage)?;
    if form.ticked("sure") {
        match bench::abandon(visitor.clinic(), visitor.credentials(), id).await {
            Ok(_) | Err(clinic::Error::State { .. }) => {}
            Err(other) => return Err(other.into()),
        }
    }
    Ok(to(&format!("/batches/{id}")))
}

async fn release(visitor: Visitor, id: Path<String>, form: Form) -> Result<HttpResponse, Trouble> {
    let id: BatchId = id.parse().map_err(|_| Trouble::NoPage)?;
    let once = form.once(&format!("POST /batches/{id}/hold-releases"))?;
    let request = NewHoldRelease { step: form.text("step").parse().map_err(|_| Trouble::Malformed)? };
    match bench::hold_release(visitor.clinic(), visitor.credentials(), &once, id, &request).await {
        // Released already, perhaps by somebody else: the record says who.
        Ok(_) | Err(clinic::Error::Conflict(_) | clinic::Error::KeyReused) => {
            Ok(to(&format!("/batches/{id}")))
        }
        Err(clinic::Error::GateClosed(outstanding)) => {
            formula::gate(&visitor, &outstanding, format!("/batches/{id}")).await
        }
        Err(error) => {
            let cures = form::faults(error)?.into_iter().map(|(_, cure)| cure).collect::<Vec<_>>();
            let said = Refused { hold_fault: cures.join(" "), ..Refused::default() };
            record_page(&visitor, id, StatusCode::UNPROCESSABLE_ENTITY, said).await
        }
    }
}
