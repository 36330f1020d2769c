//! Deciding about a proposal: what makers will read, what changed, and what it comes out as. And withdrawing.

use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use actix_web::web::{Data, Path};
use askama::Template;
use clinic::{Detail, Reader, formulary, overview, recipes};
use wire::formulary::{Decide, Withdraw};
use wire::ids::RevisionId;
use wire::recipe::{CompositionBasis, Evaluation, MakeFor, Recipe};
use wire::safety::CautionLevel;

use crate::answer::{page, to};
use crate::composed::{Composed, composed};
use crate::figures::spelled;
use crate::form::Form;
use crate::frame::Frame;
use crate::mount::Mount;
use crate::notebook::{Compared, compare, lines_of, step_written};
use crate::routes::formula;
use crate::shown::shown;
use crate::texts::t2;
use crate::trouble::Trouble;
use crate::visitor::Visitor;

pub(super) fn routes(mount: &mut impl Mount) {
    mount.get("/revisions/{id}/decide", decide_page);
    mount.post("/revisions/{id}/decide", decide);
    mount.post("/revisions/{id}/withdraw", withdraw);
}

#[derive(Template)]
#[template(path = "decide.html")]
struct DecidePage {
    frame: Frame,
    id: RevisionId,
    title: String,
    preparation: String,
    said: String,
    lines: Vec<(String, Vec<String>)>,
    steps: Vec<String>,
    changed: Vec<Compared>,
    same: usize,
    comes: Option<Composed>,
    stop: String,
    own: bool,
    comment: String,
    cure: String,
}

async fn decide_page(
    visitor: Visitor,
    reader: Data<Reader>,
    id: Path<String>,
) -> Result<HttpResponse, Trouble> {
    let id: RevisionId = id.parse().map_err(|_| Trouble::NoPage)?;
    decide_show(&visitor, &reader, id, StatusCode::OK, String::new(), String::new()).await
}

async fn decide_show(
    visitor: &Visitor,
    reader: &Reader,
    id: RevisionId,
    status: StatusCode,
    comment: String,
    cure: String,
) -> Result<HttpResponse, Trouble> {
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let own = MakeFor::default();
    let today = visitor.frame(String::new()).today();
    let dated = MakeFor { made_on: Some(today), ..MakeFor::default() };
    let recipe: Recipe = match recipes::recipe(clinic, reader, credentials, id, &dated, Detail::Brief).await {
        Ok(released) => shown(&released)?,
        // Whoever decides reads what makers will read.
        Err(clinic::Error::GateClosed(outstanding)) => {
            return formula::gate(visitor, &outstanding, format!("/revisions/{id}/decide")).await;
        }
        Err(other) => return Err(other.into()),
    };
    let revision = formulary::revision(clinic, credentials, id).await?.value;
    let formula = formulary::formula(reader, credentials, revision.formula).await?;
    let evaluation: Option<Evaluation> =
        match recipes::evaluation(clinic, credentials, id, CompositionBasis::default(), Detail::Explained)
            .await
        {
            Ok(released) => Some(shown(&released)?),
            Err(clinic::Error::GateClosed(_)) => None,
            Err(other) => return Err(other.into()),
        };
    let before = formula.summary.approved_revision.filter(|approved| *approved != id);
    let earlier: Option<Recipe> = match before {
        Some(before) => match recipes::recipe(clinic, reader, credentials, before, &own, Detail::Brief).await
        {
            Ok(released) => Some(shown(&released)?),
            Err(_) => None,
        },
        None => None,
    };
    let (changed, same) =
        earlier.as_ref().map(|earlier| compare(&lines_of(earlier), &lines_of(&recipe))).unwrap_or_default();
    let names = overview::names(clinic, credentials, &[revision.author]).await?;
    let author = names.first().map(|(_, name)| name.clone()).unwrap_or_default();
    let stop = revision
        .caution_set
        .iter()
        .flat_map(|set| &set.cautions)
        .find(|caution| caution.level == CautionLevel::Stop)
        .map(|caution| caution.text.clone())
        .unwrap_or_default();
    let frame = visitor.frame(revision.title.clone()).on_desk().with("forms.js");
    let page_of = DecidePage {
        id,
        title: revision.title.clone(),
        preparation: revision.preparation.clone(),
        said: t2("decide-said", i64::from(revision.number), author),
        lines: recipe
            .phases
            .iter()
            .map(|phase| {
                let lines = phase.lines.iter();
                let told = lines.map(|line| {
                    let function = line.function.as_deref().map(|it| format!(", {it}")).unwrap_or_default();
                    spelled(&format!("{} {}{function}", line.as_written, line.name))
                });
                (phase.name.clone(), told.collect())
            })
            .collect(),
        steps: recipe.method.iter().map(step_written).collect(),
        changed,
        same,
        comes: evaluation.as_ref().map(|evaluation| match &recipe.use_by {
            Some(use_by) => composed(evaluation).dated(&frame, use_by),
            None => composed(evaluation),
        }),
        stop,
        own: revision.author == visitor.person().id,
        comment,
        cure,
        frame,
    };
    page(status, &page_of)
}

async fn decide(
    visitor: Visitor,
    reader: Data<Reader>,
    id: Path<String>,
    form: Form,
) -> Result<HttpResponse, Trouble> {
    let id: RevisionId = id.parse().map_err(|_| Trouble::NoPage)?;
    let decision = form.text("decision").parse().map_err(|_| Trouble::Malformed)?;
    let request = Decide { decision, comment: form.text("comment") };
    match formulary::decide(visitor.clinic(), visitor.credentials(), id, &request).await {
        Ok(_) => Ok(to("/queue")),
        Err(clinic::Error::Invalid(errors)) => {
            let cure = errors.into_iter().map(|error| error.detail).collect::<Vec<_>>().join(" ");
            decide_show(&visitor, &reader, id, StatusCode::UNPROCESSABLE_ENTITY, form.text("comment"), cure)
                .await
        }
        Err(clinic::Error::GateClosed(outstanding)) => {
            formula::gate(&visitor, &outstanding, format!("/revisions/{id}/decide")).await
        }
        Err(other) => Err(other.into()),
    }
}

async fn withdraw(visitor: Visitor, id: Path<String>, form: Form) -> Result<HttpResponse, Trouble> {
    let id: RevisionId = id.parse().map_err(|_| Trouble::NoPage)?;
    let request = Withdraw { reason: form.text("reason") };
    match formulary::withdraw(visitor.clinic(), visitor.credentials(), id, &request).await {
        Ok(_) | Err(clinic::Error::State { .. }) => Ok(to(&format!("/revisions/{id}"))),
        Err(other) => Err(other.into()),
    }
}
