//! Changing a mark: the levels as they are, and another mark with its reason.

use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use actix_web::web::Path;
use askama::Template;
use clinic::marking;
use wire::ids::{BatchId, WorkSubmissionId};
use wire::teaching::{CriterionLevel, MarkChange, MarkReason, Rubric, WorkMark};

use crate::answer::{page, to};
use crate::form::{self, Form};
use crate::frame::Frame;
use crate::mount::Mount;
use crate::routes::marking::{Criterion, before, of_points, reason_word, said, to_decide};
use crate::texts::t;
use crate::trouble::Trouble;
use crate::visitor::Visitor;

pub(super) fn routes(mount: &mut impl Mount) {
    mount.get("/submissions/{id}/mark", change_page);
    mount.post("/submissions/{id}/mark", change);
}

/// The criteria with levels, each as it is marked or as it was chosen anew.
pub(super) fn levels_now(rubric: &Rubric, last: &WorkMark, form: &Form) -> Vec<Criterion> {
    let now = |number: usize| last.criteria.iter().find(|one| usize::try_from(one.criterion) == Ok(number));
    let levelled = (1_usize..).zip(&rubric.criteria).filter(|(_, criterion)| !criterion.must_pass);
    let criteria = levelled.map(|(number, criterion)| {
        let mut shown = to_decide((number, criterion), None, form, String::new());
        if !shown.levels.iter().any(|level| level.chosen) {
            let level = now(number).and_then(|one| usize::try_from(one.level?).ok());
            for one in &mut shown.levels {
                one.chosen = Some(one.number) == level;
            }
        }
        shown
    });
    criteria.collect()
}

/// The levels of a form that are not those of the mark.
pub(super) fn chosen(rubric: &Rubric, last: &WorkMark, form: &Form) -> Vec<CriterionLevel> {
    let chosen = (1..).zip(&rubric.criteria).filter_map(|(criterion, _): (u32, _)| {
        let level = form.text(&format!("level-{criterion}")).parse().ok()?;
        Some(CriterionLevel { criterion, level })
    });
    let differs = |one: &CriterionLevel| {
        let same = |before: &wire::teaching::MarkedCriterion| {
            before.criterion == one.criterion && before.level == Some(one.level)
        };
        !last.criteria.iter().any(same)
    };
    chosen.filter(differs).collect()
}

#[derive(Template)]
#[template(path = "mark.html")]
struct ChangePage {
    frame: Frame,
    id: WorkSubmissionId,
    batch: BatchId,
    points: String,
    said: String,
    before: Vec<String>,
    criteria: Vec<Criterion>,
    reasons: Vec<(String, String)>,
    reason: String,
    once: String,
    cure: String,
}

async fn change_page(visitor: Visitor, id: Path<String>) -> Result<HttpResponse, Trouble> {
    visitor.only_instructors()?;
    let id = id.parse().map_err(|_| Trouble::NoPage)?;
    change_show(&visitor, id, StatusCode::OK, &Form::default(), String::new()).await
}

async fn change_show(
    visitor: &Visitor,
    id: WorkSubmissionId,
    status: StatusCode,
    form: &Form,
    cure: String,
) -> Result<HttpResponse, Trouble> {
    let marks = marking::marks(visitor.clinic(), visitor.credentials(), id).await?;
    let Some(last) = marks.marks.first() else { return Err(Trouble::NoPage) };
    let frame = visitor.frame(t("mark-change-title")).with("forms.js");
    let criteria = levels_now(&marks.rubric, last, form);
    // An appeal is decided where it was made.
    let reasons = MarkReason::ALL.iter().filter(|reason| **reason != MarkReason::Appeal);
    let reasons = reasons.map(|reason| (reason.to_string(), reason_word(*reason))).collect();
    let page_of = ChangePage {
        id,
        batch: marks.batch,
        points: of_points(last.points, &marks.rubric),
        said: said(&frame, last),
        before: before(&frame, &marks),
        criteria,
        reasons,
        reason: form.text("reason"),
        once: visitor.pages().once(),
        cure,
        frame,
    };
    page(status, &page_of)
}

async fn change(visitor: Visitor, id: Path<String>, form: Form) -> Result<HttpResponse, Trouble> {
    visitor.only_instructors()?;
    let id: WorkSubmissionId = id.parse().map_err(|_| Trouble::NoPage)?;
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let Ok(reason) = form.text("reason").parse::<MarkReason>() else {
        return change_show(&visitor, id, StatusCode::UNPROCESSABLE_ENTITY, &form, t("mark-choose-why"))
            .await;
    };
    let marks = marking::marks(clinic, credentials, id).await?;
    let Some(last) = marks.marks.first() else { return Err(Trouble::NoPage) };
    let request = MarkChange { reason, criteria: chosen(&marks.rubric, last, &form) };
    let route = format!("POST /submissions/{id}/mark");
    let claimed = form.once_of("once", &route, &["claim"])?;
    let once = form.once(&route)?;
    // Changing a mark is one act: the work is held for it, and let go with it.
    let done = match marking::claim_create(clinic, credentials, &claimed, id).await {
        Ok(_) => marking::mark_change(clinic, credentials, &once, id, &request).await,
        Err(error) => Err(error),
    };
    match done {
        Ok(marks) => Ok(to(&format!("/batches/{}", marks.batch))),
        Err(error) => {
            let status = match error {
                clinic::Error::State { .. } => StatusCode::CONFLICT,
                _ => StatusCode::UNPROCESSABLE_ENTITY,
            };
            let cure = form::faults(error)?.into_iter().map(|(_, cure)| cure).collect::<Vec<_>>().join(" ");
            change_show(&visitor, id, status, &form, cure).await
        }
    }
}
