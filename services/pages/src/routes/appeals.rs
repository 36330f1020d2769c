//! Appeals: made by the student beside the mark, and decided on a page of their own by somebody who gave no mark.

use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use actix_web::web::Path;
use askama::Template;
use clinic::marking;
use wire::ids::{BatchId, WorkSubmissionId};
use wire::teaching::{AppealDecision, AppealOutcome, CriterionLevel, NewAppeal};

use crate::answer::{page, to};
use crate::form::{self, Form};
use crate::frame::Frame;
use crate::mount::Mount;
use crate::routes::appealed::words;
use crate::routes::mark_change::{chosen, levels_now};
use crate::routes::marking::{Criterion, before, of_points, said};
use crate::routes::record;
use crate::texts::t;
use crate::trouble::Trouble;
use crate::visitor::Visitor;

pub(super) fn routes(mount: &mut impl Mount) {
    mount.get("/submissions/{id}/appeal", decide_page);
    mount.post("/submissions/{id}/appeal", appeal);
    mount.post("/submissions/{id}/appeal/decision", decide);
}

async fn appeal(visitor: Visitor, id: Path<String>, form: Form) -> Result<HttpResponse, Trouble> {
    let id: WorkSubmissionId = id.parse().map_err(|_| Trouble::NoPage)?;
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let once = form.once(&format!("POST /submissions/{id}/appeal"))?;
    let batch = marking::marks(clinic, credentials, id).await?.batch;
    let criteria = form.all("criterion").iter().filter_map(|number| number.parse().ok()).collect();
    let Ok(reason) = form.text("reason").parse() else {
        return record::appeal_refused(&visitor, batch, t("appeal-choose-why")).await;
    };
    match marking::appeal_create(clinic, credentials, &once, id, &NewAppeal { reason, criteria }).await {
        Ok(_) | Err(clinic::Error::KeyReused) => Ok(to(&format!("/batches/{batch}#mark"))),
        Err(error) => {
            let cure = form::faults(error)?.into_iter().map(|(_, cure)| cure).collect::<Vec<_>>().join(" ");
            record::appeal_refused(&visitor, batch, cure).await
        }
    }
}

#[derive(Template)]
#[template(path = "appeal.html")]
struct DecidePage {
    frame: Frame,
    id: WorkSubmissionId,
    batch: BatchId,
    points: String,
    said: String,
    before: Vec<String>,
    appeal: String,
    criteria: Vec<Criterion>,
    once: String,
    cure: String,
}

async fn decide_page(visitor: Visitor, id: Path<String>) -> Result<HttpResponse, Trouble> {
    visitor.only_instructors()?;
    let id = id.parse().map_err(|_| Trouble::NoPage)?;
    decide_show(&visitor, id, StatusCode::OK, &Form::default(), String::new()).await
}

async fn decide_show(
    visitor: &Visitor,
    id: WorkSubmissionId,
    status: StatusCode,
    form: &Form,
    cure: String,
) -> Result<HttpResponse, Trouble> {
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let marks = marking::marks(clinic, credentials, id).await?;
    let appeal = marking::appeals(clinic, credentials, id).await?.appeal;
    let (Some(last), Some(appeal)) = (marks.marks.first(), appeal) else { return Err(Trouble::NoPage) };
    if appeal.decided.is_some() {
        return Ok(to(&format!("/batches/{}#mark", marks.batch)));
    }
    let frame = visitor.frame(t("appeal-title")).with("forms.js");
    let page_of = DecidePage {
        id,
        batch: marks.batch,
        points: of_points(last.points, &marks.rubric),
        said: said(&frame, last),
        before: before(&frame, &marks),
        appeal: words(&frame, &appeal, &marks.rubric),
        criteria: levels_now(&marks.rubric, last, form),
        once: visitor.pages().once(),
        cure,
        frame,
    };
    page(status, &page_of)
}

async fn decide(visitor: Visitor, id: Path<String>, form: Form) -> Result<HttpResponse, Trouble> {
    visitor.only_instructors()?;
    let id: WorkSubmissionId = id.parse().map_err(|_| Trouble::NoPage)?;
    let outcome: AppealOutcome = form.text("outcome").parse().map_err(|_| Trouble::Malformed)?;
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let marks = marking::marks(clinic, credentials, id).await?;
    let Some(last) = marks.marks.first() else { return Err(Trouble::NoPage) };
    let criteria: Vec<CriterionLevel> = match outcome {
        AppealOutcome::Stands => Vec::new(),
        AppealOutcome::Upheld => chosen(&marks.rubric, last, &form),
    };
    let route = format!("POST /submissions/{id}/appeal/decision");
    let claimed = form.once_of(form::ONCE, &route, &["claim"])?;
    let once = form.once(&route)?;
    // Deciding is one act: the work is held for it, and let go with it.
    let done = match marking::claim_create(clinic, credentials, &claimed, id).await {
        Ok(_) | Err(clinic::Error::KeyReused) => {
            marking::appeal_decide(clinic, credentials, &once, id, &AppealDecision { outcome, criteria })
                .await
        }
        Err(error) => Err(error),
    };
    match done {
        Ok(_) => Ok(to(&format!("/batches/{}#mark", marks.batch))),
        Err(error) => {
            let status = match error {
                clinic::Error::State { .. } => StatusCode::CONFLICT,
                _ => StatusCode::UNPROCESSABLE_ENTITY,
            };
            let cure = form::faults(error)?.into_iter().map(|(_, cure)| cure).collect::<Vec<_>>().join(" ");
            decide_show(&visitor, id, status, &form, cure).await
        }
    }
}
