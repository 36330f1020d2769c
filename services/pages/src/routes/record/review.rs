//! The review of a record: exceptions first, and the decision.

use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use actix_web::web::{Path, Query};
use askama::Template;
use clinic::bench;
use clinic::waiting as in_hand;
use wire::bench::{BatchState, NewReview, ReviewComment, Verdict};
use wire::ids::BatchId;
use wire::page::PageQuery;
use wire::teaching::KeptPhrase;

use super::read::{Made, Row, Submission, made, missing, read, state_of, submissions};
use crate::answer::{page, to};
use crate::figures::spelled;
use crate::form::Form;
use crate::frame::Frame;
use crate::routes::formula;
use crate::routes::marking::{self, Marking};
use crate::routes::photographs::{self, Shown};
use crate::routes::phrases;
use crate::routes::waiting::{self, Asked};
use crate::texts::{t, text};
use crate::trouble::Trouble;
use crate::visitor::Visitor;

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
    photographs: Vec<Shown>,
    submissions: Vec<Submission>,
    once: String,
    form: Form,
    cure: String,
    findings: usize,
    waiting: usize,
    /// The queue that it was opened from.
    of_queue: Asked,
    /// Said in the place of the decision where there is none to make.
    decided: String,
    /// What is marked, of work that was handed in.
    marking: Option<Marking>,
    /// What the reviewer keeps for comments.
    phrases: Vec<KeptPhrase>,
}

impl ReviewPage {
    fn typed(&self, row: &Row) -> String {
        row.act.written.iter().map(|written| self.form.text(&format!("comment-{}", written.id))).collect()
    }

    /// The name of a comment's field.
    fn field(&self, kind: &str, of: impl ToString) -> String {
        format!("{kind}-{}", of.to_string())
    }

    /// Whether a comment is to be kept as a phrase.
    fn keeps(&self, field: impl AsRef<str>) -> bool {
        self.form.ticked(&format!("keep-{}", field.as_ref()))
    }

    /// The batch that was returned, where this version is another one.
    fn other_batch(&self) -> Option<(BatchId, String)> {
        let returned = self.marking.as_ref()?.returned.as_ref()?;
        (returned.batch != self.id).then(|| (returned.batch, returned.batch_number.clone()))
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

pub(super) async fn review_page(
    visitor: Visitor,
    id: Path<String>,
    asked: Query<Asked>,
) -> Result<HttpResponse, Trouble> {
    let id: BatchId = id.parse().map_err(|_| Trouble::NoPage)?;
    let of = (asked.into_inner(), Form::default());
    review_show(&visitor, id, StatusCode::OK, of, Default::default()).await
}

async fn review_show(
    visitor: &Visitor,
    id: BatchId,
    status: StatusCode,
    (of_queue, form): (Asked, Form),
    (of_mark, cure): (Vec<(String, String)>, String),
) -> Result<HttpResponse, Trouble> {
    let mut frame = visitor.frame(String::new()).on_desk().with("forms.js").with("desk.js");
    let first = PageQuery { limit: Some(waiting::SHOWN), after: None };
    let rest = in_hand::to_review(visitor.clinic(), visitor.credentials(), &first).await?.items.len();
    let waiting = waiting::first(visitor, &of_queue).await?.len() + rest;
    let read = match read(visitor, &frame, id).await {
        Err(Trouble::Clinic(clinic::Error::GateClosed(outstanding))) => {
            return formula::gate(visitor, &outstanding, waiting::review_of(id, &of_queue)).await;
        }
        other => other?,
    };
    let me = visitor.person().id;
    let own = read.record.summary.maker == me || read.record.makers.iter().any(|one| one.person == me);
    let decided = match read.record.summary.state {
        _ if own => t("review-own"),
        BatchState::Submitted => String::new(),
        _ => state_of(&frame, &read, own),
    };
    let marking = marking::marking(visitor, &frame, id, (&form, &of_mark)).await?;
    let (submissions, made) = (submissions(&frame, &read), made(&frame, &read.record));
    let maker = read.maker();
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
    let missing = missing(&record);
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
        photographs: photographs::strip(visitor, &frame, id).await?,
        submissions,
        once: visitor.pages().once(),
        form,
        cure,
        findings: record.findings.len(),
        waiting,
        of_queue,
        decided,
        marking,
        phrases: phrases::kept(visitor).await?,
        frame,
    };
    page(status, &page_of)
}

pub(super) async fn review(visitor: Visitor, id: Path<String>, form: Form) -> Result<HttpResponse, Trouble> {
    let id: BatchId = id.parse().map_err(|_| Trouble::NoPage)?;
    let verdict: Verdict = form.text("verdict").parse().map_err(|_| Trouble::Malformed)?;
    let form = phrases::written(&visitor, &form).await?;
    if let Some(cure) = phrases::keep(&visitor, &form).await? {
        let of = (Asked::of(&form), form);
        return review_show(&visitor, id, StatusCode::UNPROCESSABLE_ENTITY, of, (Vec::new(), cure)).await;
    }
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
            let of = (Asked::of(&form), form);
            review_show(&visitor, id, StatusCode::UNPROCESSABLE_ENTITY, of, cures).await
        }
        // Somebody else decided meanwhile: the record says who, and what was written stays on the page.
        Err(clinic::Error::State { .. }) => {
            let of = (Asked::of(&form), form);
            review_show(&visitor, id, StatusCode::CONFLICT, of, Default::default()).await
        }
        Err(other) => Err(other.into()),
    }
}
