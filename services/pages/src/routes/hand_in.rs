//! Handing work in, and a student's work as those who teach see it.

use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use actix_web::web::Path;
use askama::Template;
use clinic::{marking, teaching, work};
use wire::ids::{AssignmentId, BatchId, PersonId};
use wire::page::PageQuery;
use wire::teaching::{
    AllowanceKind, Assignment, CohortRole, NewAllowance, NewReflection, NewRelation, NewWorkSubmission,
    StudentRecord, SubmissionNote,
};

use crate::answer::{page, to};
use crate::form::{self, Form};
use crate::frame::Frame;
use crate::mount::Mount;
use crate::routes::classes::cure_of;
use crate::routes::own_work::{HAND_IN, Handed, Typed, allowed, handed, state_word, when};
use crate::routes::work as work_page;
use crate::texts::t;
use crate::trouble::Trouble;
use crate::visitor::Visitor;

pub(super) fn routes(mount: &mut impl Mount) {
    mount.post("/assignments/{id}/hand-in", hand_in);
    mount.get("/assignments/{id}/students/{person}", student);
    mount.post("/assignments/{id}/students/{person}", allow);
    mount.post("/assignments/{id}/students/{person}/relation", relate);
}

async fn hand_in(visitor: Visitor, id: Path<String>, form: Form) -> Result<HttpResponse, Trouble> {
    let id = work_page::parsed(&id)?;
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let text = form.exact("reflection").replace("\r\n", "\n");
    let version: i64 = form.text("version").parse().map_err(|_| Trouble::Malformed)?;
    if form.text("do") != "hand" {
        let draft = NewReflection { text };
        return match work::reflection_save(clinic, credentials, id, version, &draft).await {
            Ok(_) => Ok(to(&format!("/assignments/{id}#own-work"))),
            Err(clinic::Error::PreconditionFailed) => {
                let cures = vec![("reflection".to_owned(), t("draft-elsewhere"))];
                refused(&visitor, id, StatusCode::PRECONDITION_FAILED, form, cures).await
            }
            Err(error) => {
                let cures = as_reflection(form::faults(error)?);
                refused(&visitor, id, StatusCode::UNPROCESSABLE_ENTITY, form, cures).await
            }
        };
    }
    let once = form.once(&format!("POST /assignments/{id}/hand-in"))?;
    let Ok(batch) = form.text("batch").parse::<BatchId>() else {
        let cures = vec![("batch".to_owned(), t("choose-batch"))];
        return refused(&visitor, id, StatusCode::UNPROCESSABLE_ENTITY, form, cures).await;
    };
    let asked = NewWorkSubmission { batch, reflection: Some(text) };
    match work::submit(clinic, credentials, &once, id, &asked).await {
        Ok(_) | Err(clinic::Error::KeyReused) => Ok(to(&format!("/assignments/{id}#own-work"))),
        Err(clinic::Error::GateClosed(outstanding)) => {
            crate::routes::formula::gate(&visitor, &outstanding, format!("/assignments/{id}")).await
        }
        Err(error) => {
            let status = match error {
                clinic::Error::State { .. } => StatusCode::CONFLICT,
                _ => StatusCode::UNPROCESSABLE_ENTITY,
            };
            let cures = form::faults(error)?;
            refused(&visitor, id, status, form, cures).await
        }
    }
}

/// The text of a draft is the field of this page.
fn as_reflection(cures: Vec<(String, String)>) -> Vec<(String, String)> {
    let named = |field: String| if field == "text" { "reflection".to_owned() } else { field };
    cures.into_iter().map(|(field, cure)| (named(field), cure)).collect()
}

async fn refused(
    visitor: &Visitor,
    id: AssignmentId,
    status: StatusCode,
    form: Form,
    cures: Vec<(String, String)>,
) -> Result<HttpResponse, Trouble> {
    let typed = Typed { question: HAND_IN.to_owned(), form, cures };
    work_page::show(visitor, id, status, typed).await
}

#[derive(Template)]
#[template(path = "student_work.html")]
struct StudentPage {
    frame: Frame,
    assignment: Assignment,
    record: StudentRecord,
    state: String,
    due: String,
    late: String,
    allowed: String,
    handed: Vec<Handed>,
    /// Neutral notes on the last version, which the student does not see.
    notes: Vec<SubmissionNote>,
    teaches: bool,
    /// Whether the visitor declared a relation to the student.
    related: bool,
    once: String,
    form: Form,
    cures: Vec<(String, String)>,
}

impl StudentPage {
    fn cure(&self, field: &str) -> String {
        cure_of(&self.cures, field)
    }

    fn is_chosen(&self, kind: &str) -> bool {
        let typed = self.form.text("kind");
        if typed.is_empty() { kind == AllowanceKind::ExtraTime.as_str() } else { typed == kind }
    }
}

fn both(path: &(String, String)) -> Result<(AssignmentId, PersonId), Trouble> {
    Ok((work_page::parsed(&path.0)?, path.1.parse().map_err(|_| Trouble::NoPage)?))
}

async fn student(visitor: Visitor, path: Path<(String, String)>) -> Result<HttpResponse, Trouble> {
    student_page(&visitor, both(&path)?, StatusCode::OK, Form::default(), Vec::new()).await
}

async fn student_page(
    visitor: &Visitor,
    (id, person): (AssignmentId, PersonId),
    status: StatusCode,
    form: Form,
    cures: Vec<(String, String)>,
) -> Result<HttpResponse, Trouble> {
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let assignment = teaching::assignment(clinic, credentials, id).await?.value;
    let record = work::record_of(clinic, credentials, id, person).await?;
    let cohort = teaching::cohort(clinic, credentials, assignment.cohort).await?.value;
    let mut notes = Vec::new();
    if let Some(last) = record.submissions.last() {
        notes = work::notes(clinic, credentials, last.id).await?;
    }
    let all = PageQuery { limit: Some(100), after: None };
    let relations = marking::relations(clinic, credentials, &all).await?.items;
    let related = relations.iter().any(|one| one.student == person);
    let frame = visitor.frame(record.name.clone().unwrap_or_default()).with("forms.js");
    let page_of = StudentPage {
        state: state_word(record.state),
        due: when(&frame, &record.due),
        late: record.late_until.as_ref().map(|late| when(&frame, late)).unwrap_or_default(),
        allowed: allowed(record.allowance.as_ref()),
        handed: handed(&frame, &record),
        notes,
        teaches: cohort.role == Some(CohortRole::Instructor),
        related,
        once: visitor.pages().once(),
        frame,
        assignment,
        record,
        form,
        cures,
    };
    page(status, &page_of)
}

/// Whoever declares a relation to the student marks none of their work.
async fn relate(visitor: Visitor, path: Path<(String, String)>, form: Form) -> Result<HttpResponse, Trouble> {
    let (id, student) = both(&path)?;
    let once = form.once(&format!("POST /assignments/{id}/students/{student}/relation"))?;
    // The page asks for the tick before it sends.
    if !form.ticked("sure") {
        return Err(Trouble::Malformed);
    }
    let asked = NewRelation { student };
    marking::relation_create(visitor.clinic(), visitor.credentials(), &once, &asked).await?;
    Ok(to(&format!("/assignments/{id}/students/{student}#relation")))
}

async fn allow(visitor: Visitor, path: Path<(String, String)>, form: Form) -> Result<HttpResponse, Trouble> {
    let (id, person) = both(&path)?;
    let kind: AllowanceKind = form.text("kind").parse().map_err(|_| Trouble::Malformed)?;
    let once = form.once(&format!("POST /assignments/{id}/students/{person}"))?;
    let typed = form.text("hours");
    // Hours as a person types them; what cannot be read is refused with its cure.
    let hours = typed.replace(',', ".").parse::<rust_decimal::Decimal>().unwrap_or_default();
    let minutes = (hours * rust_decimal::Decimal::from(60)).round();
    let extra = (kind == AllowanceKind::ExtraTime).then(|| u32::try_from(minutes).unwrap_or_default());
    let asked = NewAllowance { kind, extra_minutes: extra, reason: form.text("reason") };
    match work::allowance_create(visitor.clinic(), visitor.credentials(), &once, id, person, &asked).await {
        Ok(_) => Ok(to(&format!("/assignments/{id}/students/{person}"))),
        Err(error) => {
            let mut cures = form::faults(error)?;
            for (field, cure) in &mut cures {
                if field == "extra_minutes" {
                    *cure = t("hours-cure");
                }
            }
            student_page(&visitor, (id, person), StatusCode::UNPROCESSABLE_ENTITY, form, cures).await
        }
    }
}
