//! The jars of a batch: what is filled, what is left, and what was decided.

use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use actix_web::web::Path;
use askama::Template;
use chrono::NaiveDate;
use clinic::jars;
use wire::bench::Disposition;
use wire::ids::BatchId;
use wire::jars::{BatchDecision, BatchDecisionKind, Jars, NewJars, grouped};
use wire::people::Role;

use super::{emptied, handing};
use crate::answer::{page, to};
use crate::form::{self, Form};
use crate::frame::Frame;
use crate::mount::Mount;
use crate::routes::formula;
use crate::routes::shelf::fields::{self, Field, others};
use crate::texts::{t, t2};
use crate::trouble::Trouble;
use crate::visitor::Visitor;

pub(super) fn routes(mount: &mut impl Mount) {
    mount.get("/batches/{id}/jars", jars_page);
    mount.post("/batches/{id}/jars", fill);
}

/// A jar in the list.
struct Row {
    number: u32,
    fill: String,
    until: String,
    page: String,
    code: String,
    /// The page on which it is handed out, for instructors.
    handing: String,
    went: String,
    sample: bool,
    /// From which jar it was filled, or into which ones.
    decanted: String,
    /// Whether it stands on the shelf, full.
    on_shelf: bool,
}

#[derive(Template)]
#[template(path = "jars.html")]
struct JarsPage {
    frame: Frame,
    id: BatchId,
    number: String,
    title: String,
    stands: String,
    left: String,
    may_fill: bool,
    may_decide: bool,
    jars: Vec<Row>,
    decisions: Vec<(String, String)>,
    fields: Vec<Field>,
    faults: Vec<String>,
    once: String,
}

// word("fill")
const FILL: [&str; 5] = ["jars*", "fill*", "samples", "density", "use_by"];

/// How the jars stand, in a sentence.
pub(super) fn stands(disposition: Disposition) -> String {
    // word("disposition")
    t(&format!("disposition-{}", disposition.as_str().replace('_', "-")))
}

/// A decision with who took it and when, and its reason.
pub(super) fn decided(frame: &Frame, one: &BatchDecision) -> (String, String) {
    let what = match one.decision {
        BatchDecisionKind::Released if one.note.is_some() => "decided-released-own",
        BatchDecisionKind::Released => "decided-released",
        BatchDecisionKind::Discarded => "decided-discarded",
        BatchDecisionKind::Recalled => "decided-recalled",
    };
    // word("decided")
    let said = t2(what, one.by_name.clone().unwrap_or_default(), frame.when(&one.at));
    (said, one.reason.clone().unwrap_or_default())
}

async fn shown(
    visitor: &Visitor,
    id: BatchId,
    status: StatusCode,
    form: &Form,
    cures: &[(String, String)],
) -> Result<HttpResponse, Trouble> {
    let of: Jars = match jars::jars(visitor.clinic(), visitor.credentials(), id).await {
        Err(clinic::Error::GateClosed(outstanding)) => {
            return formula::gate(visitor, &outstanding, format!("/batches/{id}/jars")).await;
        }
        other => other?,
    };
    let frame = visitor.frame(t("jars-title")).with("forms.js");
    let hands = visitor.role() == Role::Instructor;
    let until = |day: &NaiveDate| frame.day(day);
    let fields = fields::fields("fill", &FILL, form, cures);
    let usable = !matches!(of.disposition, Disposition::Recalled | Disposition::Discarded);
    let page_of = JarsPage {
        id,
        number: of.number,
        title: of.title,
        stands: stands(of.disposition),
        left: of.left.unwrap_or_default(),
        may_fill: usable,
        may_decide: visitor.role() == Role::Instructor && of.disposition != Disposition::Discarded,
        jars: of
            .jars
            .into_iter()
            .map(|jar| Row {
                decanted: emptied::from(&jar),
                on_shelf: usable && !jar.sample && jar.handed.is_none() && jar.decanted_into.is_empty(),
                number: jar.number,
                fill: jar.fill,
                until: jar.use_by.as_ref().map(until).unwrap_or_else(|| t("jar-undated")),
                page: jar.page,
                sample: jar.sample,
                handing: if hands && !jar.sample && jar.decanted_into.is_empty() {
                    format!("/handing/{}", jar.id)
                } else {
                    String::new()
                },
                went: jar.handed.as_ref().map(|went| handing::went(&frame, went)).unwrap_or_default(),
                code: grouped(&jar.code),
            })
            .collect(),
        decisions: of.decisions.iter().map(|one| decided(&frame, one)).collect(),
        faults: others(&fields, cures),
        fields,
        once: visitor.pages().once(),
        frame,
    };
    page(status, &page_of)
}

async fn jars_page(visitor: Visitor, id: Path<String>) -> Result<HttpResponse, Trouble> {
    let id: BatchId = id.parse().map_err(|_| Trouble::NoPage)?;
    shown(&visitor, id, StatusCode::OK, &Form::default(), &[]).await
}

async fn fill(visitor: Visitor, id: Path<String>, form: Form) -> Result<HttpResponse, Trouble> {
    let id: BatchId = id.parse().map_err(|_| Trouble::NoPage)?;
    let once = form.once(&format!("POST /batches/{id}/jars"))?;
    let mut cures = Vec::new();
    let day = form.given("use_by").map(|typed| typed.parse::<NaiveDate>()).transpose();
    if day.is_err() {
        cures.push(("use_by".to_owned(), t("day-cure")));
    }
    let samples = form.given("samples").map(|typed| typed.parse::<u32>()).transpose();
    if samples.is_err() {
        cures.push(("samples".to_owned(), t("fill-samples-cure")));
    }
    let (Ok(use_by), Ok(samples)) = (day, samples) else {
        return shown(&visitor, id, StatusCode::UNPROCESSABLE_ENTITY, &form, &cures).await;
    };
    // What is no number of jars is refused by the use case as none.
    let request = NewJars {
        jars: form.text("jars").parse().unwrap_or_default(),
        fill: form.text("fill"),
        density: form.given("density"),
        use_by,
        samples,
    };
    match jars::fill(visitor.clinic(), visitor.credentials(), &once, id, &request).await {
        Ok(_) | Err(clinic::Error::KeyReused) => Ok(to(&format!("/batches/{id}/jars"))),
        Err(clinic::Error::GateClosed(outstanding)) => {
            formula::gate(&visitor, &outstanding, format!("/batches/{id}/jars")).await
        }
        Err(error) => {
            let cures = form::faults(error)?;
            shown(&visitor, id, StatusCode::UNPROCESSABLE_ENTITY, &form, &cures).await
        }
    }
}
