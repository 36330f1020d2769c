//! Work that is set: what a student has to do, its questions, and how a class stands. Its lists are in `work_list`.

use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use actix_web::web::{Path, Query};
use askama::Template;
use clinic::teaching;
use serde::Deserialize;
use wire::ids::AssignmentId;
use wire::page::PageQuery;
use wire::people::Role;
use wire::teaching::{
    AnswerForm, Assignment, AssignmentState, CohortRole, JoinCohort, NewAnswer, PartAnswer, PartFound,
    Question, QuestionPart, QuestionState, StudentQuestions, StudentWork,
};

use crate::answer::{page, to};
use crate::form::{self, Form};
use crate::frame::Frame;
use crate::mount::Mount;
use crate::routes::classes::cure_of;
use crate::routes::own_work::{self, OwnPart, Typed, when};
use crate::texts::t;
use crate::trouble::Trouble;
use crate::visitor::Visitor;

pub(super) fn routes(mount: &mut impl Mount) {
    mount.get("/assignments/{id}", assignment);
    mount.post("/assignments/{id}/begin", begin);
    mount.post("/assignments/{id}/answers", answer);
    mount.get("/join", join_page);
    mount.post("/join", join);
}

#[derive(Template)]
#[template(path = "assignment.html")]
struct AssignmentPage {
    frame: Frame,
    assignment: Assignment,
    /// When it opens, if that is still to come.
    opens: String,
    due: String,
    late: String,
    /// The student's own questions; nothing before they began.
    work: Option<StudentQuestions>,
    /// The student's own part: what was handed in, and what can be.
    own: Option<OwnPart>,
    /// How each student stands, for those who teach the cohort.
    class: Vec<StudentWork>,
    student: bool,
    /// An instructor of the cohort, who may change it.
    teaches: bool,
    once: String,
    typed: Typed,
}

impl AssignmentPage {
    /// Its state in words, for those who teach.
    fn state(&self) -> String {
        // word("assignment")
        t(&format!("assignment-{}", self.assignment.state))
    }

    fn is_draft(&self) -> bool {
        self.assignment.state == AssignmentState::Draft
    }

    fn is_withdrawn(&self) -> bool {
        self.assignment.state == AssignmentState::Withdrawn
    }

    /// Why handing in was refused.
    fn hand_cure(&self, field: &str) -> String {
        if self.typed.is_hand_in() { cure_of(&self.typed.cures, field) } else { String::new() }
    }

    /// How a student stands, in words.
    fn stands(&self, of: &StudentWork) -> String {
        if of.hidden { t("hidden-until-marked") } else { t(&format!("work-{}", of.state)) }
    }

    /// Why an act of those who teach was not done: of the reason, or of the whole.
    fn act_cure(&self, field: &str) -> String {
        if self.typed.question.is_empty() { cure_of(&self.typed.cures, field) } else { String::new() }
    }

    fn open(&self) -> usize {
        self.work.as_ref().map_or(0, |work| {
            work.questions.iter().filter(|question| question.state == QuestionState::Open).count()
        })
    }

    fn is_open(&self, question: &Question) -> bool {
        question.state == QuestionState::Open
    }

    /// Whether a part is answered with one option, or with several.
    fn is_one(&self, part: &QuestionPart) -> bool {
        part.form == AnswerForm::Choice
    }

    fn is_several(&self, part: &QuestionPart) -> bool {
        part.form == AnswerForm::Choices
    }

    /// How a part is written.
    fn hint(&self, part: &QuestionPart) -> String {
        // word("answer-form")
        self.frame.t(&format!("answer-form-{}", part.form.as_str().replace('_', "-")))
    }

    fn is_typed(&self, question: &Question) -> bool {
        self.typed.question == question.id.to_string()
    }

    /// What was typed into a part, if it was not accepted.
    fn value(&self, question: &Question, part: &QuestionPart) -> String {
        if self.is_typed(question) { self.typed.form.text(&field(&part.part)) } else { String::new() }
    }

    fn ticked(&self, question: &Question, part: &QuestionPart, option: &str) -> bool {
        self.is_typed(question) && self.typed.form.all(&field(&part.part)).iter().any(|one| one == option)
    }

    /// Why a part was not accepted. What concerns no part stands beside the first.
    fn cure(&self, question: &Question, part: &QuestionPart) -> String {
        if !self.is_typed(question) {
            return String::new();
        }
        let place = question.parts.iter().position(|one| one.part == part.part).unwrap_or_default();
        let of_part = format!("answers/{place}/");
        let named = |pointer: &str| pointer.starts_with(&of_part) || (place == 0 && pointer == "answers");
        let cures = self.typed.cures.iter().filter(|(pointer, _)| named(pointer));
        cures.map(|(_, cure)| cure.as_str()).collect::<Vec<_>>().join(" ")
    }

    fn left(&self, question: &Question) -> u8 {
        question.attempts_allowed.saturating_sub(question.attempts_used)
    }

    /// What the last answer was found to be, part by part.
    fn last<'q>(&self, question: &'q Question) -> &'q [PartFound] {
        question.answers.last().map_or(&[], |answer| answer.found.as_slice())
    }

    fn was_right(&self, question: &Question) -> bool {
        question.answers.last().is_some_and(|answer| answer.right)
    }

    fn values(&self, answers: &[PartAnswer], part: &str) -> String {
        answers.iter().find(|one| one.part == part).map_or_else(String::new, |one| one.values.join("; "))
    }

    fn last_values(&self, question: &Question, part: &str) -> String {
        question.answers.last().map_or_else(String::new, |answer| self.values(&answer.answers, part))
    }
}

fn field(part: &str) -> String {
    format!("part.{part}")
}

/// The batch that a record's page leads here with.
#[derive(Default, Deserialize)]
#[serde(default)]
struct With {
    batch: String,
}

async fn assignment(visitor: Visitor, id: Path<String>, with: Query<With>) -> Result<HttpResponse, Trouble> {
    let form = Form::of([("batch", with.batch.as_str())]);
    show(&visitor, parsed(&id)?, StatusCode::OK, Typed { form, ..Typed::default() }).await
}

pub(super) fn parsed(id: &str) -> Result<AssignmentId, Trouble> {
    id.parse().map_err(|_| Trouble::NoPage)
}

pub(super) async fn show(
    visitor: &Visitor,
    id: AssignmentId,
    status: StatusCode,
    typed: Typed,
) -> Result<HttpResponse, Trouble> {
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let assignment = teaching::assignment(clinic, credentials, id).await?.value;
    let student = visitor.role() == Role::Student;
    let work = match student {
        false => None,
        true => match teaching::questions_own(clinic, credentials, id).await {
            Ok(work) => Some(work),
            // Not begun yet.
            Err(clinic::Error::State { .. }) => None,
            Err(other) => return Err(other.into()),
        },
    };
    let (mut class, mut teaches) = (Vec::new(), false);
    if !student {
        let all = PageQuery { limit: Some(100), after: None };
        class = teaching::students(clinic, credentials, id, &all).await?.items;
        let cohort = teaching::cohort(clinic, credentials, assignment.cohort).await?.value;
        teaches = cohort.role == Some(CohortRole::Instructor);
    }
    let frame = visitor.frame(assignment.title.clone()).with("forms.js").with("draft.js");
    let own = match student {
        true => Some(own_work::own(visitor, &frame, id, &typed).await?),
        false => None,
    };
    let upcoming = assignment.opens.at > clinic.clock().now();
    let opens = if upcoming { when(&frame, &assignment.opens) } else { String::new() };
    let due = when(&frame, &assignment.due);
    let late = assignment.late_until.as_ref().map(|late| when(&frame, late)).unwrap_or_default();
    let once = visitor.pages().once();
    let page_of = AssignmentPage {
        frame,
        assignment,
        opens,
        due,
        late,
        work,
        own,
        class,
        student,
        teaches,
        once,
        typed,
    };
    page(status, &page_of)
}

async fn begin(visitor: Visitor, id: Path<String>, form: Form) -> Result<HttpResponse, Trouble> {
    let id = parsed(&id)?;
    let once = form.once(&format!("POST /assignments/{id}/begin"))?;
    teaching::begin(visitor.clinic(), visitor.credentials(), &once, id).await?;
    Ok(to(&format!("/assignments/{id}")))
}

async fn answer(visitor: Visitor, id: Path<String>, form: Form) -> Result<HttpResponse, Trouble> {
    let id = parsed(&id)?;
    let once = form.once(&format!("POST /assignments/{id}/answers"))?;
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let work = teaching::questions_own(clinic, credentials, id).await?;
    let asked = form.text("question");
    let question = work.questions.iter().find(|one| one.id.to_string() == asked).ok_or(Trouble::NoPage)?;
    let given = question.parts.iter().map(|part| PartAnswer {
        part: part.part.clone(),
        values: form.all(&field(&part.part)).into_iter().filter(|value| !value.is_empty()).collect(),
    });
    let given = NewAnswer { answers: given.collect() };
    match teaching::answer(clinic, credentials, &once, question.id, &given).await {
        Ok(answered) => Ok(to(&format!("/assignments/{id}#question-{}", answered.position))),
        Err(clinic::Error::Invalid(errors)) => {
            let cures = form::cures(errors);
            show(&visitor, id, StatusCode::UNPROCESSABLE_ENTITY, Typed { question: asked, form, cures }).await
        }
        Err(other) => Err(other.into()),
    }
}

#[derive(Template)]
#[template(path = "join.html")]
struct JoinPage {
    frame: Frame,
    once: String,
    code: String,
    cure: String,
}

async fn join_page(visitor: Visitor) -> Result<HttpResponse, Trouble> {
    join_shown(&visitor, StatusCode::OK, String::new(), String::new())
}

fn join_shown(
    visitor: &Visitor,
    status: StatusCode,
    code: String,
    cure: String,
) -> Result<HttpResponse, Trouble> {
    let frame = visitor.frame(t("join-title")).with("forms.js");
    page(status, &JoinPage { frame, once: visitor.pages().once(), code, cure })
}

async fn join(visitor: Visitor, form: Form) -> Result<HttpResponse, Trouble> {
    let once = form.once("POST /join")?;
    let code = form.text("code");
    match teaching::join(visitor.clinic(), visitor.credentials(), &once, &JoinCohort { code: code.clone() })
        .await
    {
        Ok(_) => Ok(to("/assignments")),
        Err(clinic::Error::Invalid(errors)) => {
            let cure = errors.into_iter().map(|error| error.detail).collect::<Vec<_>>().join(" ");
            join_shown(&visitor, StatusCode::UNPROCESSABLE_ENTITY, code, cure)
        }
        Err(other) => Err(other.into()),
    }
}
