//! Writing an assignment: as it is typed, kept until it is accepted, then published, changed by version, or withdrawn.

use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use actix_web::web::Path;
use askama::Template;
use clinic::teaching;
use wire::bench::FindingKind;
use wire::ids::{AssignmentId, CohortId};
use wire::page::PageQuery;
use wire::teaching::{
    Assignment, AssignmentChange, AssignmentState, BankQuestion, CohortRole, MustPassKind, QuestionKind,
    WithdrawAssignment,
};

use crate::answer::{page, to};
use crate::form::{self, Form};
use crate::frame::Frame;
use crate::mount::Mount;
use crate::routes::classes::{cure_of, id_of};
use crate::routes::own_work::Typed;
use crate::routes::typed_work::{Criterion, TypedWork};
use crate::routes::work;
use crate::texts::{t, t1};
use crate::trouble::Trouble;
use crate::visitor::Visitor;

pub(super) fn routes(mount: &mut impl Mount) {
    mount.get("/classes/{id}/assignment", new);
    mount.post("/classes/{id}/assignment", create);
    mount.get("/assignments/{id}/change", edit);
    mount.post("/assignments/{id}/change", change);
    mount.post("/assignments/{id}/publish", publish);
    mount.post("/assignments/{id}/withdraw", withdraw);
}

#[derive(Template)]
#[template(path = "set_work.html")]
struct WorkPage {
    frame: Frame,
    /// Where the form goes, and where the way back leads.
    action: String,
    back: String,
    once: String,
    version: i64,
    class: String,
    zone: String,
    typed: TypedWork,
    kinds: Vec<(String, String)>,
    /// What a must-pass criterion can be about, and kinds of findings.
    must_kinds: Vec<(String, String)>,
    finding_kinds: Vec<(String, String)>,
    /// A new version of what students have already.
    published: bool,
    draft: bool,
    cures: Vec<(String, String)>,
    stale: bool,
}

impl WorkPage {
    fn cure(&self, field: &str) -> String {
        cure_of(&self.cures, field)
    }

    /// The cures of a criterion: each with the level that it is about.
    fn criterion_cures(&self, place: &usize) -> Vec<String> {
        let of = format!("rubric/criteria/{place}/");
        let found = self.cures.iter().filter_map(|(field, cure)| Some((field.strip_prefix(&of)?, cure)));
        found
            .map(|(field, cure)| {
                match field
                    .strip_prefix("levels/")
                    .and_then(|rest| rest.split('/').next()?.parse::<u8>().ok())
                {
                    Some(level) => format!("{} {cure}", t1("level-number", i64::from(level) + 1)),
                    None => cure.clone(),
                }
            })
            .collect()
    }

    fn formula_cure(&self, place: &usize) -> String {
        let mut cure = self.cure(&format!("formulas/{place}"));
        if *place == 0 {
            cure = [self.cure("formulas"), cure].join(" ").trim().to_owned();
        }
        cure
    }

    fn question_cure(&self, place: &usize) -> String {
        let of = format!("questions/{place}/");
        let found = self
            .cures
            .iter()
            .filter(|(field, _)| field.starts_with(&of) || (*place == 0 && field == "questions"));
        found.map(|(_, cure)| cure.as_str()).collect::<Vec<_>>().join(" ")
    }

    /// A moment is chosen, except where it was refused: an offset can only be typed.
    fn moment(&self, field: &str) -> &'static str {
        if self.cure(field).is_empty() { "datetime-local" } else { "text" }
    }

    fn criteria(&self) -> Vec<(usize, &Criterion)> {
        self.typed.criteria.iter().enumerate().collect()
    }
}

/// The kinds of questions to choose from, and the questions of the class's own.
fn kinds(bank: &[BankQuestion]) -> Vec<(String, String)> {
    // word("question")
    let ours = QuestionKind::ALL.iter().filter(|kind| **kind != QuestionKind::Bank);
    let ours =
        ours.map(|kind| (kind.to_string(), t(&format!("question-{}", kind.as_str().replace('_', "-")))));
    let short = |text: &str| -> String {
        let words: String = text.chars().take(70).collect();
        if words.len() < text.len() { format!("{words}…") } else { words }
    };
    ours.chain(bank.iter().map(|one| (format!("bank:{}", one.id), short(&one.text)))).collect()
}

/// What a must-pass criterion can be about.
fn must_kinds() -> Vec<(String, String)> {
    // word("must-pass")
    let word = |kind: &MustPassKind| t(&format!("must-pass-{}", kind.as_str().replace('_', "-")));
    MustPassKind::ALL.iter().map(|kind| (kind.to_string(), word(kind))).collect()
}

/// Kinds of findings, by which a level is proposed.
fn finding_kinds() -> Vec<(String, String)> {
    // word("found")
    let word = |kind: &FindingKind| t(&format!("found-{}", kind.as_str().replace('_', "-")));
    FindingKind::ALL.iter().map(|kind| (kind.to_string(), word(kind))).collect()
}

async fn bank(visitor: &Visitor, cohort: CohortId) -> Result<Vec<BankQuestion>, Trouble> {
    let all = PageQuery { limit: Some(100), after: None };
    Ok(teaching::bank_questions(visitor.clinic(), visitor.credentials(), cohort, &all).await?.items)
}

async fn new(visitor: Visitor, id: Path<String>) -> Result<HttpResponse, Trouble> {
    visitor.only_instructors()?;
    new_page(&visitor, id_of(&id)?, StatusCode::OK, TypedWork::empty(), Vec::new()).await
}

async fn new_page(
    visitor: &Visitor,
    id: CohortId,
    status: StatusCode,
    typed: TypedWork,
    cures: Vec<(String, String)>,
) -> Result<HttpResponse, Trouble> {
    let cohort = teaching::cohort(visitor.clinic(), visitor.credentials(), id).await?.value;
    if cohort.role != Some(CohortRole::Instructor) {
        return Err(clinic::Error::Forbidden(t("only-its-instructors")).into());
    }
    let kinds = kinds(&bank(visitor, id).await?);
    let frame = visitor.frame(t("set-work-title")).with("forms.js").with("titles.js");
    let page_of = WorkPage {
        frame,
        action: format!("/classes/{id}/assignment"),
        back: format!("/classes/{id}"),
        once: visitor.pages().once(),
        version: 0,
        class: cohort.name,
        zone: cohort.time_zone,
        typed: typed.with_room(),
        kinds,
        must_kinds: must_kinds(),
        finding_kinds: finding_kinds(),
        published: false,
        draft: true,
        cures,
        stale: false,
    };
    page(status, &page_of)
}

async fn create(visitor: Visitor, id: Path<String>, form: Form) -> Result<HttpResponse, Trouble> {
    visitor.only_instructors()?;
    let id = id_of(&id)?;
    let once = form.once(&format!("POST /classes/{id}/assignment"))?;
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let typed = TypedWork::of(&form);
    let (content, mut faults) = typed.content(&visitor).await?;
    if let Some(content) = content {
        match teaching::assignment_create(clinic, credentials, &once, id, &content).await {
            Ok(made) => return Ok(to(&format!("/assignments/{}", made.value.id))),
            Err(error) => faults = merged(form::faults(error)?, faults),
        }
    }
    new_page(&visitor, id, StatusCode::UNPROCESSABLE_ENTITY, typed, faults).await
}

/// What the service refused, in our words where we know better what was typed.
fn merged(refused: Vec<(String, String)>, ours: Vec<(String, String)>) -> Vec<(String, String)> {
    let refused = refused
        .into_iter()
        .map(|(field, cure)| (field.strip_prefix("content/").unwrap_or(&field).to_owned(), cure))
        .filter(|(field, _)| !ours.iter().any(|(known, _)| known == field));
    refused.chain(ours.iter().cloned()).collect()
}

async fn edit(visitor: Visitor, id: Path<String>) -> Result<HttpResponse, Trouble> {
    visitor.only_instructors()?;
    let id = work::parsed(&id)?;
    let found = teaching::assignment(visitor.clinic(), visitor.credentials(), id).await?;
    let typed = TypedWork::as_written(&found.value);
    edit_page(&visitor, &found.value, StatusCode::OK, (typed, found.version), Vec::new(), false).await
}

async fn edit_page(
    visitor: &Visitor,
    of: &Assignment,
    status: StatusCode,
    (typed, version): (TypedWork, i64),
    cures: Vec<(String, String)>,
    stale: bool,
) -> Result<HttpResponse, Trouble> {
    let cohort = teaching::cohort(visitor.clinic(), visitor.credentials(), of.cohort).await?.value;
    if cohort.role != Some(CohortRole::Instructor) {
        return Err(clinic::Error::Forbidden(t("only-its-instructors")).into());
    }
    let kinds = kinds(&bank(visitor, of.cohort).await?);
    let frame = visitor.frame(t("change-work-title")).with("forms.js").with("titles.js");
    let page_of = WorkPage {
        frame,
        action: format!("/assignments/{}/change", of.id),
        back: format!("/assignments/{}", of.id),
        once: visitor.pages().once(),
        version,
        class: cohort.name,
        zone: cohort.time_zone,
        typed: typed.with_room(),
        kinds,
        must_kinds: must_kinds(),
        finding_kinds: finding_kinds(),
        published: of.state == AssignmentState::Published,
        draft: of.state == AssignmentState::Draft,
        cures,
        stale,
    };
    page(status, &page_of)
}

async fn change(visitor: Visitor, id: Path<String>, form: Form) -> Result<HttpResponse, Trouble> {
    visitor.only_instructors()?;
    let id = work::parsed(&id)?;
    let version = form.text("version").parse().map_err(|_| Trouble::Malformed)?;
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let typed = TypedWork::of(&form);
    let (content, mut faults) = typed.content(&visitor).await?;
    let mut stale = false;
    if let Some(content) = content {
        let asked = AssignmentChange { content, reason: form.given("reason") };
        match teaching::assignment_change(clinic, credentials, id, version, &asked).await {
            Ok(_) => return Ok(to(&format!("/assignments/{id}"))),
            Err(clinic::Error::PreconditionFailed) => stale = true,
            Err(error) => faults = merged(form::faults(error)?, faults),
        }
    }
    let found = teaching::assignment(clinic, credentials, id).await?;
    // What was typed was typed on the version that it was read as, until its author has seen the other.
    let (status, version) = match stale {
        true => (StatusCode::PRECONDITION_FAILED, found.version),
        false => (StatusCode::UNPROCESSABLE_ENTITY, version),
    };
    edit_page(&visitor, &found.value, status, (typed, version), faults, stale).await
}

async fn publish(visitor: Visitor, id: Path<String>, form: Form) -> Result<HttpResponse, Trouble> {
    let id = work::parsed(&id)?;
    let once = form.once(&format!("POST /assignments/{id}/publish"))?;
    match teaching::publish(visitor.clinic(), visitor.credentials(), &once, id).await {
        Ok(_) => Ok(to(&format!("/assignments/{id}"))),
        Err(error) => not_done(&visitor, id, form, error).await,
    }
}

async fn withdraw(visitor: Visitor, id: Path<String>, form: Form) -> Result<HttpResponse, Trouble> {
    let id = work::parsed(&id)?;
    let once = form.once(&format!("POST /assignments/{id}/withdraw"))?;
    let asked = WithdrawAssignment { reason: form.text("reason") };
    match teaching::withdraw(visitor.clinic(), visitor.credentials(), &once, id, &asked).await {
        Ok(_) => Ok(to(&format!("/assignments/{id}"))),
        Err(error) => not_done(&visitor, id, form, error).await,
    }
}

/// The assignment as it stands, with why the act was not done beside it.
async fn not_done(
    visitor: &Visitor,
    id: AssignmentId,
    form: Form,
    error: clinic::Error,
) -> Result<HttpResponse, Trouble> {
    let status = match error {
        clinic::Error::State { .. } => StatusCode::CONFLICT,
        _ => StatusCode::UNPROCESSABLE_ENTITY,
    };
    let cures = form::faults(error)?;
    work::show(visitor, id, status, Typed { form, cures, ..Typed::default() }).await
}
