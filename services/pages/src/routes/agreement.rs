//! How far the markers of a class agree, and which share of its marks is given twice.

use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use actix_web::web::{Path, Query};
use askama::Template;
use clinic::{moderation, teaching};
use wire::ids::CohortId;
use wire::teaching::{
    AssignmentAgreement, CohortRole, DrawnMark, ModerationShare, ModerationState, NewModerationShare,
};

use crate::answer::{page, to};
use crate::form::{self, Form};
use crate::frame::Frame;
use crate::mount::Mount;
use crate::routes::classes::id_of;
use crate::routes::people::After;
use crate::texts::{t, t1, t2, t3};
use crate::trouble::Trouble;
use crate::visitor::Visitor;

pub(super) fn routes(mount: &mut impl Mount) {
    mount.get("/classes/{id}/agreement", agreement);
    mount.post("/classes/{id}/agreement", share);
}

#[derive(Template)]
#[template(path = "agreement.html")]
struct AgreementPage {
    frame: Frame,
    id: CohortId,
    name: String,
    instructor: bool,
    share: String,
    percent: String,
    assignments: Vec<AssignmentAgreement>,
    rule: String,
    /// Each with where it stands.
    drawn: Vec<(DrawnMark, String)>,
    next: String,
    once: String,
    cure: String,
}

async fn agreement(visitor: Visitor, id: Path<String>, after: Query<After>) -> Result<HttpResponse, Trouble> {
    show(&visitor, id_of(&id)?, StatusCode::OK, &after, (None, String::new())).await
}

async fn show(
    visitor: &Visitor,
    id: CohortId,
    status: StatusCode,
    after: &After,
    (typed, cure): (Option<String>, String),
) -> Result<HttpResponse, Trouble> {
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let found = moderation::agreement(clinic, credentials, id).await?;
    let drawn = moderation::drawn(clinic, credentials, id, &after.query()).await?;
    let cohort = teaching::cohort(clinic, credentials, id).await?.value;
    let frame = visitor.frame(t("agreement-title")).with("forms.js");
    let next = drawn.next.map(|next| {
        format!(
            "/classes/{id}/agreement?{}",
            serde_urlencoded::to_string([("after", next)]).unwrap_or_default()
        )
    });
    let page_of = AgreementPage {
        id,
        name: cohort.name,
        instructor: cohort.role == Some(CohortRole::Instructor),
        share: said(&frame, &found.share),
        percent: typed.unwrap_or_else(|| found.share.percent.to_string()),
        assignments: found.assignments,
        rule: found.rule,
        drawn: drawn.items.into_iter().map(|one| (one.clone(), stands(&one))).collect(),
        next: next.unwrap_or_default(),
        once: visitor.pages().once(),
        cure,
        frame,
    };
    page(status, &page_of)
}

fn said(frame: &Frame, share: &ModerationShare) -> String {
    match &share.set_at {
        None => t("share-none"),
        Some(at) => {
            let who = share.set_by_name.clone().unwrap_or_default();
            t3("share-is", i64::from(share.percent), who, frame.when(at))
        }
    }
}

fn stands(one: &DrawnMark) -> String {
    let second = one.second_marker_name.clone().unwrap_or_default();
    match one.state {
        ModerationState::Waiting if one.second_marker.is_none() => t("drawn-nobody"),
        ModerationState::Waiting | ModerationState::Given => t1("drawn-waits", second),
        ModerationState::Differs => t3(
            "drawn-differs",
            one.first_marker_name.clone().unwrap_or_default(),
            second,
            i64::from(one.differences),
        ),
        ModerationState::Settled => {
            t2("drawn-settled", one.first_marker_name.clone().unwrap_or_default(), second)
        }
    }
}

async fn share(visitor: Visitor, id: Path<String>, form: Form) -> Result<HttpResponse, Trouble> {
    let id = id_of(&id)?;
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let once = form.once(&format!("POST /classes/{id}/agreement"))?;
    let typed = form.text("percent");
    // What is no number is refused as one that is too large.
    let percent = typed.parse().unwrap_or(u32::MAX);
    match moderation::share_set(clinic, credentials, &once, id, &NewModerationShare { percent }).await {
        Ok(_) | Err(clinic::Error::KeyReused) => Ok(to(&format!("/classes/{id}/agreement"))),
        Err(error) => {
            let cure = form::faults(error)?.into_iter().map(|(_, cure)| cure).collect::<Vec<_>>().join(" ");
            let of = (Some(typed), cure);
            show(&visitor, id, StatusCode::UNPROCESSABLE_ENTITY, &After::default(), of).await
        }
    }
}
