//! What waits for an instructor: work to mark, and the rest in the order in which it came.

use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use actix_web::web::{Path, Query};
use askama::Template;
use clinic::overview::{self, BatchInHand, RevisionInHand};
use clinic::{amendments, formulary, marking, moderation, reactions, waiting as in_hand};
use wire::amendments::{Amendment, AmendmentQuery, AmendmentState};
use wire::handovers::Handover;
use wire::ids::AcknowledgementId;
use wire::page::PageQuery;
use wire::reactions::{ReactionCaseState, ReactionCaseSummary, ReactionQuery};
use wire::safety::{Acknowledgement, CautionLevel};
use wire::teaching::{WaitingAppeal, WaitingModeration};

use crate::answer::{page, to};
use crate::form::Form;
use crate::frame::Frame;
use crate::mount::Mount;
use crate::reading;
use crate::routes::appealed;
use crate::routes::bench::{handovers, long_work};
use crate::routes::jars::observing::{self, Due};
use crate::routes::waiting::{self, Asked, Waiting};
use crate::texts::t;
use crate::trouble::Trouble;
use crate::visitor::Visitor;

pub(super) fn routes(mount: &mut impl Mount) {
    mount.get("/queue", queue);
    mount.get("/countersign/{id}", countersign_page);
    mount.post("/countersign/{id}", countersign);
}

#[derive(Template)]
#[template(path = "queue.html")]
struct QueuePage {
    frame: Frame,
    now: String,
    day: String,
    work: Waiting,
    /// Each with why the student disagrees.
    appeals: Vec<(WaitingAppeal, String)>,
    seconds: Vec<WaitingModeration>,
    /// Open cases of reactions.
    cases: Vec<ReactionCaseSummary>,
    /// Batches whose samples are to be looked at.
    samples: Vec<Due>,
    /// The visitor's own batches that are to be looked at or taken up again.
    long: Vec<long_work::Due>,
    /// Batches that are offered to the visitor.
    offered: Vec<Handover>,
    holds: Vec<BatchInHand>,
    review: Vec<BatchInHand>,
    review_next: String,
    decide: Vec<RevisionInHand>,
    countersign: Vec<Acknowledgement>,
    amendments: Vec<Amendment>,
    drafts: Vec<RevisionInHand>,
    once: String,
}

async fn queue(visitor: Visitor, asked: Query<Asked>) -> Result<HttpResponse, Trouble> {
    visitor.only_instructors()?;
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let asked = asked.into_inner();
    let after = Some(asked.rest.clone()).filter(|after| !after.is_empty());
    let of_rest = PageQuery { limit: Some(waiting::SHOWN), after };
    let rest = in_hand::to_review(clinic, credentials, &of_rest).await?;
    let next = rest.next.map(|next| asked.with_rest(&next)).unwrap_or_default();
    let holds = in_hand::holds_waiting(clinic, credentials).await?;
    let (decide, drafts) = overview::revisions_in_hand(clinic, credentials).await?;
    let first = PageQuery { limit: Some(20), after: None };
    let countersign = formulary::awaited(clinic, credentials, &first).await?.items;
    let waiting = AmendmentQuery {
        state: Some(AmendmentState::AwaitingSecondPerson),
        material: None,
        limit: Some(20),
        after: None,
    };
    let amendments = amendments::amendments(clinic, credentials, &waiting).await?.items;
    let appeals = marking::appeals_waiting(clinic, credentials, &first).await?.items.into_iter();
    let appeals = appeals.map(|one| (one.clone(), appealed::reason_word(one.reason))).collect();
    let seconds = moderation::waiting(clinic, credentials, &first).await?.items;
    let open = ReactionQuery { state: Some(ReactionCaseState::Open), limit: Some(20), after: None };
    let cases = reactions::cases(clinic, credentials, &open).await?.items;
    let frame = visitor.frame(t("queue-title"));
    let work = waiting::waiting(&visitor, &frame, asked).await?;
    let samples = observing::due(&visitor, &frame).await?;
    let long = long_work::due(&visitor, &frame).await?;
    let offered = handovers::waiting(&visitor).await?;
    let now = visitor.clinic().clock().now();
    let once = visitor.pages().once();
    let (day, now) = (frame.short_day(&frame.today()), frame.time(&now));
    page(
        StatusCode::OK,
        &QueuePage {
            frame,
            now,
            day,
            work,
            appeals,
            seconds,
            cases,
            samples,
            long,
            offered,
            holds,
            review: rest.items,
            review_next: next,
            decide,
            countersign,
            amendments,
            drafts,
            once,
        },
    )
}

#[derive(Template)]
#[template(path = "countersign.html")]
struct CountersignPage {
    frame: Frame,
    asked: Acknowledgement,
    whom: String,
    cautions: Vec<(&'static str, String)>,
    once: String,
}

async fn find(visitor: &Visitor, id: AcknowledgementId) -> Result<Acknowledgement, Trouble> {
    let first = PageQuery { limit: Some(100), after: None };
    let all = formulary::awaited(visitor.clinic(), visitor.credentials(), &first).await?;
    all.items
        .into_iter()
        .find(|one| one.id == id)
        .ok_or(Trouble::Clinic(clinic::Error::NotFound("acknowledgement")))
}

async fn countersign_page(visitor: Visitor, id: Path<String>) -> Result<HttpResponse, Trouble> {
    let asked = find(&visitor, id.parse().map_err(|_| Trouble::NoPage)?).await?;
    let frame = visitor.frame(t("countersign-title")).with("forms.js");
    let whom = asked.meant_for.iter().map(|word| reading::audience(word)).collect::<Vec<_>>().join(", ");
    let cautions = asked
        .caution_set
        .cautions
        .iter()
        .filter(|caution| caution.level >= CautionLevel::Caution)
        .map(|caution| {
            (
                if caution.level >= CautionLevel::Contraindication { "contra" } else { "" },
                caution.text.clone(),
            )
        })
        .collect();
    let once = visitor.pages().once();
    page(StatusCode::OK, &CountersignPage { frame, asked, whom, cautions, once })
}

async fn countersign(visitor: Visitor, id: Path<String>, form: Form) -> Result<HttpResponse, Trouble> {
    let id: AcknowledgementId = id.parse().map_err(|_| Trouble::NoPage)?;
    let once = form.once(&format!("POST /countersign/{id}"))?;
    match formulary::countersign(visitor.clinic(), visitor.credentials(), &once, id).await {
        Ok(_) => Ok(to("/queue")),
        Err(clinic::Error::GateClosed(outstanding)) => {
            super::formula::gate(&visitor, &outstanding, "/queue".to_owned()).await
        }
        Err(other) => Err(other.into()),
    }
}
