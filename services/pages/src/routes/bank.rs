//! The questions of a class's own: reading them, and writing another one.

use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use actix_web::web::{Path, Query};
use askama::Template;
use clinic::teaching;
use wire::ids::CohortId;
use wire::teaching::{BankAnswer, BankChoice, BankNumber, BankQuestion, CohortRole, NewBankQuestion};

use crate::answer::{page, to};
use crate::form::{self, Form};
use crate::frame::Frame;
use crate::mount::Mount;
use crate::routes::classes::id_of;
use crate::routes::people::After;
use crate::texts::t;
use crate::trouble::Trouble;
use crate::visitor::Visitor;

pub(super) fn routes(mount: &mut impl Mount) {
    mount.get("/classes/{id}/questions", list);
    mount.post("/classes/{id}/questions", add);
}

#[derive(Template)]
#[template(path = "class_questions.html")]
struct QuestionsPage {
    frame: Frame,
    id: CohortId,
    class: String,
    questions: Vec<BankQuestion>,
    next: String,
    once: String,
    instructor: bool,
    form: Form,
    cures: Vec<(String, String)>,
}

impl QuestionsPage {
    /// What is right, as it is shown.
    fn right(&self, question: &BankQuestion) -> String {
        match (&question.answer.number, &question.answer.choice) {
            (Some(number), _) => format!("{} ± {} %", number.value, number.tolerance_percent),
            (_, Some(choice)) => {
                let place = usize::from(choice.right).saturating_sub(1);
                choice.options.get(place).cloned().unwrap_or_default()
            }
            _ => String::new(),
        }
    }

    fn cure(&self, field: &str) -> String {
        let of_field =
            self.cures.iter().filter(|(of, _)| of == field || of.starts_with(&format!("{field}/")));
        of_field.map(|(_, cure)| cure.as_str()).collect::<Vec<_>>().join(" ")
    }

    /// What concerns neither of the two kinds of answer.
    fn answer_cure(&self) -> String {
        self.cures.iter().filter(|(of, _)| of == "answer").map(|(_, cure)| cure.as_str()).collect()
    }
}

async fn list(visitor: Visitor, id: Path<String>, after: Query<After>) -> Result<HttpResponse, Trouble> {
    show(&visitor, id_of(&id)?, StatusCode::OK, &after, Form::default(), Vec::new()).await
}

async fn show(
    visitor: &Visitor,
    id: CohortId,
    status: StatusCode,
    after: &After,
    form: Form,
    cures: Vec<(String, String)>,
) -> Result<HttpResponse, Trouble> {
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let cohort = teaching::cohort(clinic, credentials, id).await?.value;
    let found = teaching::bank_questions(clinic, credentials, id, &after.query()).await?;
    let next = found.next.map(|next| format!("/classes/{id}/questions?after={next}")).unwrap_or_default();
    let frame = visitor.frame(t("own-questions")).with("forms.js");
    let instructor = cohort.role == Some(CohortRole::Instructor);
    let once = visitor.pages().once();
    let class = cohort.name;
    page(
        status,
        &QuestionsPage { frame, id, class, questions: found.items, next, once, instructor, form, cures },
    )
}

async fn add(visitor: Visitor, id: Path<String>, form: Form) -> Result<HttpResponse, Trouble> {
    let id = id_of(&id)?;
    let once = form.once(&format!("POST /classes/{id}/questions"))?;
    let options: Vec<String> = form.text("options").lines().map(|line| line.trim().to_owned()).collect();
    let options: Vec<String> = options.into_iter().filter(|line| !line.is_empty()).collect();
    let number =
        form.given("value").map(|value| BankNumber { value, tolerance_percent: form.text("tolerance") });
    let right = form.text("right").parse().unwrap_or(0);
    let choice = (!options.is_empty()).then_some(BankChoice { options, right });
    let asked = NewBankQuestion {
        text: form.text("text"),
        answer: BankAnswer { number, choice },
        worked: form.text("worked"),
    };
    match teaching::bank_question_create(visitor.clinic(), visitor.credentials(), &once, id, &asked).await {
        Ok(_) => Ok(to(&format!("/classes/{id}/questions"))),
        Err(error) => {
            let cures = form::faults(error)?;
            let status = StatusCode::UNPROCESSABLE_ENTITY;
            show(&visitor, id, status, &After::default(), form, cures).await
        }
    }
}
