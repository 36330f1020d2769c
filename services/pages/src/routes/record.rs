//! Batch records: the list, the record for its maker, handing it in, and the review.

use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use actix_web::web::{Path, Query};
use askama::Template;
use clinic::bench;
use clinic::overview::{self, BatchInHand};
use clinic::work::{self, CountsFor};
use serde::Deserialize;
use wire::bench::{AtBench, BatchRecord, BatchState, NewReview, ReviewComment, Submit, Verdict};
use wire::ids::{BatchId, PersonId};
use wire::people::Role;

use crate::acts::{self, Act};
use crate::answer::{page, to};
use crate::dated;
use crate::effects;
use crate::figures::{self, spelled};
use crate::form::Form;
use crate::frame::Frame;
use crate::mount::Mount;
use crate::reading;
use crate::routes::formula;
use crate::routes::marking::{self, Marking, ReadMark};
use crate::routes::shelf::made::can_be_shelved;
use crate::routes::shelf::reserve::can_reserve;
use crate::shown::shown;
use crate::texts::{t, t1, t2, text};
use crate::trouble::Trouble;
use crate::visitor::Visitor;

pub(super) fn routes(mount: &mut impl Mount) {
    mount.get("/batches", list);
    mount.get("/batches/{id}", record);
    mount.post("/batches/{id}/submissions", submit);
    mount.post("/batches/{id}/abandon", abandon);
    mount.get("/batches/{id}/review", review_page);
    mount.post("/batches/{id}/reviews", review);
}

/// Which batches, as the address says.
#[derive(Default, Deserialize)]
#[serde(default)]
struct Asked {
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
pub(super) fn state_word(state: BatchState) -> String {
    // word("state")
    t(&format!("state-{}", state.as_str()))
}

async fn list(visitor: Visitor, asked: Query<Asked>) -> Result<HttpResponse, Trouble> {
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

/// A comment of a review, with its writer.
struct Comment {
    who: String,
    text: String,
}

/// An act with what reviewers said of its entries.
struct Row {
    act: Act,
    comments: Vec<Comment>,
    /// Changed or added since the last submission.
    newer: bool,
}

impl Row {
    fn stands_out(&self) -> bool {
        !self.act.findings.is_empty() || !self.comments.is_empty()
    }
}

struct Submission {
    number: u32,
    at: String,
    answer: String,
    review: Option<(String, String, String)>,
}

struct Made {
    name: String,
    value: String,
    sentence: String,
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
    made: Vec<Made>,
    submissions: Vec<Submission>,
    once: String,
    answer: String,
    answer_cure: String,
    changed: String,
    /// What the evaporation raises beside the acknowledged cautions.
    by_loss: Vec<String>,
}

struct Read {
    record: BatchRecord,
    names: Vec<(PersonId, String)>,
    rows: Vec<Row>,
}

impl RecordPage {
    /// The assignment that it was handed in for.
    fn counts(&self) -> Option<&CountsFor> {
        self.works.iter().find(|work| work.counts)
    }
}

impl Read {
    fn name(&self, of: PersonId) -> String {
        self.names.iter().find(|(id, _)| *id == of).map(|(_, name)| name.clone()).unwrap_or_default()
    }
}

async fn read(visitor: &Visitor, frame: &Frame, id: BatchId) -> Result<Read, Trouble> {
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let AtBench { record, aids } = shown(&bench::at_bench(clinic, credentials, id).await?)?;
    let mut ids = vec![record.summary.maker];
    ids.extend(record.submissions.iter().filter_map(|one| Some(one.review.as_ref()?.reviewer)));
    let names = overview::names(clinic, credentials, &ids).await?;
    let name = |of: PersonId| {
        names.iter().find(|(id, _)| *id == of).map(|(_, name)| name.clone()).unwrap_or_default()
    };
    let last_at = record.submissions.iter().rev().find(|one| one.review.is_some()).map(|one| one.at);
    let mut acts = acts::acts(frame, &record, &aids);
    effects::told(visitor, &record, &mut acts).await?;
    let rows = acts
        .into_iter()
        .map(|act| {
            let ids: Vec<_> = act.written.iter().map(|written| written.id).collect();
            let of_act = |entry: &Option<wire::ids::EntryId>| {
                entry.is_some_and(|id| {
                    ids.contains(&id) || corrected_into(&record, id).is_some_and(|id| ids.contains(&id))
                })
            };
            let comments = record
                .submissions
                .iter()
                .filter_map(|one| one.review.as_ref())
                .flat_map(|review| review.comments.iter().map(move |comment| (review.reviewer, comment)))
                .filter(|(_, comment)| of_act(&comment.entry))
                .map(|(who, comment)| Comment { who: name(who), text: comment.text.clone() })
                .collect();
            let newer = last_at.is_some_and(|last| {
                record.entries.iter().any(|entry| ids.contains(&entry.id) && entry.at > last)
            });
            Row { act, comments, newer }
        })
        .collect();
    Ok(Read { record, names, rows })
}

/// The entry that stands in the place of a corrected one now.
fn corrected_into(record: &BatchRecord, id: wire::ids::EntryId) -> Option<wire::ids::EntryId> {
    let mut now = record.entries.iter().find(|entry| entry.id == id)?;
    while let Some(next) = now.corrected_by.and_then(|id| record.entries.iter().find(|entry| entry.id == id))
    {
        now = next;
    }
    Some(now.id)
}

fn submissions(frame: &Frame, read: &Read) -> Vec<Submission> {
    let all = read.record.submissions.iter();
    all.map(|one| Submission {
        number: one.number,
        at: frame.when(&one.at),
        answer: one.answer.clone().unwrap_or_default(),
        review: one.review.as_ref().map(|review| {
            let who = t2("who-when", read.name(review.reviewer), frame.when(&review.at));
            // word("verdict")
            (who, t(&format!("verdict-{}", review.verdict.as_str())), review.summary.clone())
        }),
    })
    .collect()
}

fn made(frame: &Frame, record: &BatchRecord) -> Vec<Made> {
    let mut all = Vec::new();
    let Some(made) = &record.as_made else { return all };
    if let Some(use_by) = &made.use_by {
        let date = dated::date(frame, use_by);
        all.push(Made { name: t("use-by"), value: date.value, sentence: date.sentence });
    }
    for figure in &made.yields {
        let (value, sentence) = (figures::shown(figure).whole(), figures::beside(figure));
        all.push(Made { name: figure.name.clone(), value, sentence });
    }
    if let Some(total) = made.cost.as_ref().and_then(|cost| cost.figures.first()) {
        all.push(Made {
            name: t("cost-word"),
            value: figures::shown(total).whole(),
            sentence: String::new(),
        });
    }
    // word("disposition")
    all.push(Made {
        name: t("the-jars"),
        value: t(&format!("disposition-{}", record.summary.disposition.as_str().replace('_', "-"))),
        sentence: String::new(),
    });
    all
}

/// The state in one sentence, and who acts next.
fn state_of(frame: &Frame, read: &Read, own: bool) -> String {
    let record = &read.record;
    let submitted = record.submissions.last().map(|one| frame.when(&one.at)).unwrap_or_default();
    let reviewer = record.submissions.iter().rev().find_map(|one| one.review.as_ref());
    let by = reviewer.map(|review| read.name(review.reviewer)).unwrap_or_default();
    match record.summary.state {
        BatchState::Planned => t("record-planned"),
        BatchState::Making if own => t("record-making"),
        BatchState::Making => t1("record-making-by", read.name(record.summary.maker)),
        BatchState::Submitted => t1("record-submitted", submitted),
        BatchState::Returned => t1("record-returned", by),
        BatchState::Accepted => t1("record-accepted", by),
        BatchState::Rejected => t1("record-rejected", by),
        BatchState::Abandoned => t("record-abandoned"),
    }
}

async fn record(visitor: Visitor, id: Path<String>) -> Result<HttpResponse, Trouble> {
    let id: BatchId = id.parse().map_err(|_| Trouble::NoPage)?;
    record_page(&visitor, id, StatusCode::OK, String::new(), String::new()).await
}

async fn record_page(
    visitor: &Visitor,
    id: BatchId,
    status: StatusCode,
    answer: String,
    answer_cure: String,
) -> Result<HttpResponse, Trouble> {
    let mut frame = visitor.frame(String::new()).with("forms.js");
    let read = match read(visitor, &frame, id).await {
        Err(Trouble::Clinic(clinic::Error::GateClosed(outstanding))) => {
            return formula::gate(visitor, &outstanding, format!("/batches/{id}")).await;
        }
        other => other?,
    };
    let own = read.record.summary.maker == visitor.person().id;
    let works = match own && visitor.role() == Role::Student {
        true => work::counts_for(visitor.clinic(), visitor.credentials(), id).await?,
        false => Vec::new(),
    };
    let mark = marking::read_mark(visitor, &frame, &read.record).await?;
    let state = state_of(&frame, &read, own);
    let (submissions, made) = (submissions(&frame, &read), made(&frame, &read.record));
    let maker = read.name(read.record.summary.maker);
    let record = read.record;
    frame.title = format!("{} {}", record.summary.title, record.summary.number);
    let state_now = record.summary.state;
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
        can_review: visitor.role() == Role::Instructor && state_now == BatchState::Submitted && !own,
        can_shelve: can_be_shelved(&record),
        can_reserve: can_reserve(state_now, own),
        works,
        mark,
        may_change_mark: visitor.role() == Role::Instructor && !own,
        look,
        asked,
        missing: missing.into_iter().map(|row| row.act).filter(|act| !act.is_offered()).collect(),
        made,
        submissions,
        once: visitor.pages().once(),
        answer,
        answer_cure,
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
            record_page(&visitor, id, StatusCode::UNPROCESSABLE_ENTITY, form.text("answer"), cure).await
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

#[derive(Template)]
#[template(path = "review.html")]
struct ReviewPage {
    frame: Frame,
    id: BatchId,
    number: String,
    title: String,
    maker: String,
    said: String,
    look: Vec<Row>,
    newer: Vec<Row>,
    asked: Vec<Row>,
    missing: Vec<String>,
    made: Vec<Made>,
    submissions: Vec<Submission>,
    once: String,
    form: Form,
    cure: String,
    findings: usize,
    waiting: usize,
    /// Said in the place of the decision where there is none to make.
    decided: String,
    /// What is marked, of work that was handed in.
    marking: Option<Marking>,
}

impl ReviewPage {
    fn typed(&self, row: &Row) -> String {
        row.act.written.iter().map(|written| self.form.text(&format!("comment-{}", written.id))).collect()
    }

    /// Nothing was found, and nothing is noted for those who teach.
    fn clean(&self) -> bool {
        self.findings == 0 && self.marking.as_ref().is_none_or(|one| one.notes.is_empty())
    }

    /// Whether another marker holds the work, and who.
    fn held(&self) -> bool {
        !self.held_by().is_empty()
    }

    fn held_by(&self) -> String {
        self.marking.as_ref().map(|one| one.held.clone()).unwrap_or_default()
    }

    /// Whether the work waits for somebody to hold it.
    fn to_claim(&self) -> bool {
        self.marking.as_ref().is_some_and(|one| one.mine.is_empty() && one.held.is_empty())
    }
}

async fn review_page(visitor: Visitor, id: Path<String>) -> Result<HttpResponse, Trouble> {
    let id: BatchId = id.parse().map_err(|_| Trouble::NoPage)?;
    review_show(&visitor, id, StatusCode::OK, Form::default(), Default::default()).await
}

async fn review_show(
    visitor: &Visitor,
    id: BatchId,
    status: StatusCode,
    form: Form,
    (of_mark, cure): (Vec<(String, String)>, String),
) -> Result<HttpResponse, Trouble> {
    let mut frame = visitor.frame(String::new()).on_desk().with("forms.js").with("desk.js");
    let waiting = overview::to_review(visitor.clinic(), visitor.credentials()).await?.len();
    let read = match read(visitor, &frame, id).await {
        Err(Trouble::Clinic(clinic::Error::GateClosed(outstanding))) => {
            return formula::gate(visitor, &outstanding, format!("/batches/{id}/review")).await;
        }
        other => other?,
    };
    let own = read.record.summary.maker == visitor.person().id;
    let decided = match read.record.summary.state {
        _ if own => t("review-own"),
        BatchState::Submitted => String::new(),
        _ => state_of(&frame, &read, own),
    };
    let marking = marking::marking(visitor, &frame, id, (&form, &of_mark)).await?;
    let (submissions, made) = (submissions(&frame, &read), made(&frame, &read.record));
    let maker = read.name(read.record.summary.maker);
    let record = read.record;
    let last = record.submissions.last();
    let said = text(
        "review-said",
        &[
            ("a", maker.clone().into()),
            ("b", frame.day(&frame.day_of(&record.summary.opened_at)).into()),
            ("c", spelled(&record.recipe.made_for).into()),
            ("d", last.map_or(0, |one| i64::from(one.number)).into()),
            ("e", last.map(|one| frame.when(&one.at)).unwrap_or_default().into()),
        ],
    );
    frame.title = format!("{} {}", record.summary.title, record.summary.number);
    let written = read.rows.into_iter().filter(|row| row.act.is_written());
    // What changed stands first from the second submission on, whether or not it stands out.
    let (newer, rest): (Vec<Row>, Vec<Row>) = written.partition(|row| row.newer);
    let (look, asked): (Vec<Row>, Vec<Row>) = rest.into_iter().partition(Row::stands_out);
    let missing: Vec<String> = record
        .findings
        .iter()
        .filter(|finding| finding.entry.is_none() && finding.kind == wire::bench::FindingKind::Missing)
        .map(|finding| spelled(&finding.sentence))
        .collect();
    let page_of = ReviewPage {
        id,
        number: record.summary.number.clone(),
        title: record.summary.title.clone(),
        maker,
        said,
        look,
        newer,
        asked,
        missing,
        made,
        submissions,
        once: visitor.pages().once(),
        form,
        cure,
        findings: record.findings.len(),
        waiting,
        decided,
        marking,
        frame,
    };
    page(status, &page_of)
}

async fn review(visitor: Visitor, id: Path<String>, form: Form) -> Result<HttpResponse, Trouble> {
    let id: BatchId = id.parse().map_err(|_| Trouble::NoPage)?;
    let verdict: Verdict = form.text("verdict").parse().map_err(|_| Trouble::Malformed)?;
    let comments: Vec<ReviewComment> = form
        .fields()
        .iter()
        .filter_map(|(name, value)| {
            let entry = name.strip_prefix("comment-")?.parse().ok()?;
            Some(ReviewComment { entry: Some(entry), text: value.trim().to_owned() })
        })
        .filter(|comment| !comment.text.is_empty())
        .collect();
    // A clean record needs no words of praise; the record still says what was decided.
    let clean = verdict == Verdict::Accept && form.text("clean") == "yes";
    let summary =
        form.given("summary").or_else(|| clean.then(|| t("review-clean-words"))).unwrap_or_default();
    let once = form.once(&format!("POST /batches/{id}/reviews"))?;
    let mark = marking::mark_of(&visitor, id, &form).await?;
    let request = NewReview { verdict, summary, comments, mark };
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let reviewed = match marking::prolong(&visitor, id, &form).await {
        Ok(()) => bench::review(clinic, credentials, &once, id, &request).await,
        Err(error) => Err(error),
    };
    match reviewed {
        // The next record opens by itself.
        Ok(_) => Ok(to(&marking::next(&visitor, &form).await?)),
        Err(clinic::Error::Invalid(errors)) => {
            let cures = marking::split(errors);
            review_show(&visitor, id, StatusCode::UNPROCESSABLE_ENTITY, form, cures).await
        }
        // Somebody else decided meanwhile: the record says who, and what was written stays on the page.
        Err(clinic::Error::State { .. }) => {
            review_show(&visitor, id, StatusCode::CONFLICT, form, Default::default()).await
        }
        Err(other) => Err(other.into()),
    }
}
