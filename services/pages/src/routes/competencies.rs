//! Competencies: the clinic's own, how a student stands with them, signing a student off, and the credential to take along.

use actix_web::http::{StatusCode, header};
use actix_web::web::{Path, Query};
use actix_web::{HttpRequest, HttpResponse};
use askama::Template;
use clinic::competencies;
use serde::Deserialize;
use wire::ids::{CohortId, CompetencyId, PersonId, SignOffId};
use wire::people::Role;
use wire::teaching::{
    AcceptedRule, AnswersRule, Competency, CompetencyRule, CriterionRule, NewCompetency, NewRevocation,
    NewSignOff, QuestionKind, RevocationReason, SignOff, SignOffState, StudentCompetencies,
    StudentCompetency,
};

use crate::answer::{page, to};
use crate::form::{self, Form};
use crate::frame::Frame;
use crate::mount::Mount;
use crate::routes::classes::{cure_of, id_of};
use crate::texts::{t, t1, t2, t3};
use crate::trouble::Trouble;
use crate::visitor::Visitor;

pub(super) fn routes(mount: &mut impl Mount) {
    mount.get("/competencies", list);
    mount.post("/competencies", add);
    mount.get("/progress/competencies", own);
    mount.get("/classes/{id}/students/{person}/competencies", of_student);
    mount.post("/classes/{id}/students/{person}/competencies", act);
    mount.get("/sign-offs/{id}/badge", badge);
}

/// What a rule asks for, a sentence each.
fn rule(of: &CompetencyRule) -> Vec<String> {
    let mut parts = Vec::new();
    if let Some(accepted) = &of.accepted {
        parts.push(match &accepted.preparation {
            Some(kind) => t2("rule-accepted-of", i64::from(accepted.works), kind.clone()),
            None => t1("rule-accepted", i64::from(accepted.works)),
        });
    }
    if let Some(criterion) = &of.criterion {
        parts.push(t2("rule-criterion", i64::from(criterion.works), criterion.title.clone()));
    }
    if let Some(answers) = &of.answers {
        parts.push(match answers.kind {
            Some(kind) => t2("rule-answers-of", i64::from(answers.right), kind_word(kind)),
            None => t1("rule-answers", i64::from(answers.right)),
        });
    }
    parts
}

fn kind_word(kind: QuestionKind) -> String {
    // word("question")
    t(&format!("question-{}", kind.as_str().replace('_', "-")))
}

#[derive(Template)]
#[template(path = "competencies.html")]
struct ListPage {
    frame: Frame,
    all: Vec<(Competency, Vec<String>)>,
    staff: bool,
    kinds: Vec<(String, String)>,
    form: Form,
    cures: Vec<(String, String)>,
    once: String,
}

impl ListPage {
    fn cure(&self, field: &str) -> String {
        cure_of(&self.cures, field)
    }
}

async fn list(visitor: Visitor) -> Result<HttpResponse, Trouble> {
    show_list(&visitor, StatusCode::OK, Form::default(), Vec::new()).await
}

async fn show_list(
    visitor: &Visitor,
    status: StatusCode,
    form: Form,
    cures: Vec<(String, String)>,
) -> Result<HttpResponse, Trouble> {
    let all = competencies::all(visitor.clinic(), visitor.credentials()).await?.items;
    let all = all.into_iter().map(|one| (one.clone(), rule(&one.rule))).collect();
    let kinds = QuestionKind::ALL.iter().map(|kind| (kind.to_string(), kind_word(*kind))).collect();
    let frame = visitor.frame(t("competencies-title")).with("forms.js");
    let staff = visitor.role() != Role::Student;
    page(status, &ListPage { frame, all, staff, kinds, form, cures, once: visitor.pages().once() })
}

/// The competency of a form. A number that cannot be read is refused as one that is out of range.
fn asked(form: &Form) -> NewCompetency {
    let number = |field: &str| form.given(field).map(|text| text.parse().unwrap_or_default());
    let accepted = number("accepted");
    let criterion = (number("criterion"), form.given("title"));
    NewCompetency {
        name: form.text("name"),
        says: form.text("says"),
        rule: CompetencyRule {
            accepted: accepted.map(|works| AcceptedRule { works, preparation: form.given("preparation") }),
            criterion: match criterion {
                (None, None) => None,
                (works, title) => {
                    Some(CriterionRule { works: works.unwrap_or_default(), title: title.unwrap_or_default() })
                }
            },
            answers: number("right").map(|right| AnswersRule {
                right,
                kind: form.given("kind").and_then(|kind| kind.parse().ok()),
            }),
        },
        lasts_months: number("lasts_months").unwrap_or_default(),
    }
}

async fn add(visitor: Visitor, form: Form) -> Result<HttpResponse, Trouble> {
    let once = form.once("POST /competencies")?;
    match competencies::create(visitor.clinic(), visitor.credentials(), &once, &asked(&form)).await {
        Ok(_) | Err(clinic::Error::KeyReused) => Ok(to("/competencies")),
        Err(error) => {
            let cures = form::faults(error)?;
            show_list(&visitor, StatusCode::UNPROCESSABLE_ENTITY, form, cures).await
        }
    }
}

/// How far a student is with one part of a rule.
struct Part {
    says: String,
    count: String,
}

/// One competency of a student.
struct Item {
    id: CompetencyId,
    name: String,
    says: String,
    parts: Vec<Part>,
    /// How the last sign-off stands, in words.
    stands: String,
    /// That sign-off, while it holds.
    holds: Option<SignOffId>,
    /// Whether it can be signed now.
    ready: bool,
}

#[derive(Template)]
#[template(path = "student_competencies.html")]
struct StudentPage {
    frame: Frame,
    /// The class and the student that it is read in; nothing on the student's own page.
    class: Option<(CohortId, PersonId)>,
    back: (String, String),
    items: Vec<Item>,
    /// Whether the reader may sign.
    signs: bool,
    reasons: Vec<(String, String)>,
    once: String,
    cure: String,
}

fn item(frame: &Frame, of: StudentCompetency) -> Item {
    let of_rule = &of.competency.rule;
    let counts = [
        of_rule.accepted.as_ref().map(|rule| (of.accepted_works, rule.works)),
        of_rule.criterion.as_ref().map(|rule| (of.criterion_works, rule.works)),
        of_rule.answers.as_ref().map(|rule| (of.right_answers, rule.right)),
    ];
    let counts = counts.into_iter().flatten();
    let parts = rule(of_rule).into_iter().zip(counts).map(|(says, (there, wanted))| Part {
        says,
        count: t2("points-of", i64::from(there), i64::from(wanted)),
    });
    let holds = of.sign_off.as_ref().filter(|one| one.state == SignOffState::Valid).map(|one| one.id);
    Item {
        id: of.competency.id,
        parts: parts.collect(),
        stands: of.sign_off.as_ref().map(|one| stands(frame, one)).unwrap_or_default(),
        holds,
        ready: of.met && holds.is_none(),
        name: of.competency.name,
        says: of.competency.says,
    }
}

fn stands(frame: &Frame, of: &SignOff) -> String {
    let day = |at| frame.day(&frame.day_of(at));
    let by = of.signed_by_name.clone().unwrap_or_default();
    match (&of.revoked, of.state) {
        (Some(revoked), _) => {
            let by = revoked.revoked_by_name.clone().unwrap_or_default();
            t3("sign-off-revoked", by, day(&revoked.at), reason_word(revoked.reason))
        }
        (None, SignOffState::Expired) => t2("sign-off-expired", by, day(&of.ends_at)),
        (None, _) => t3("sign-off-valid", by, day(&of.at), day(&of.ends_at)),
    }
}

fn reason_word(reason: RevocationReason) -> String {
    // word("revoked")
    t(&format!("revoked-{}", reason.as_str().replace('_', "-")))
}

fn show(
    visitor: &Visitor,
    status: StatusCode,
    class: Option<CohortId>,
    found: StudentCompetencies,
    cure: String,
) -> Result<HttpResponse, Trouble> {
    let name = found.name.clone().unwrap_or_default();
    let (title, back) = match class {
        Some(id) => (
            t1("competencies-of", name.clone()),
            (format!("/classes/{id}/students/{}/progress", found.person), t1("progress-of", name)),
        ),
        None => (t("competencies-own"), ("/progress".to_owned(), t("progress-title"))),
    };
    let frame = visitor.frame(title).with("forms.js");
    let items = found.items.into_iter().map(|one| item(&frame, one)).collect();
    let reasons = RevocationReason::ALL.iter().map(|reason| (reason.to_string(), reason_word(*reason)));
    let page_of = StudentPage {
        class: class.map(|id| (id, found.person)),
        back,
        items,
        signs: class.is_some() && visitor.role() == Role::Instructor,
        reasons: reasons.collect(),
        once: visitor.pages().once(),
        cure,
        frame,
    };
    page(status, &page_of)
}

async fn own(visitor: Visitor) -> Result<HttpResponse, Trouble> {
    let found = competencies::own(visitor.clinic(), visitor.credentials()).await?;
    show(&visitor, StatusCode::OK, None, found, String::new())
}

fn whom(path: &(String, String)) -> Result<(CohortId, PersonId), Trouble> {
    Ok((id_of(&path.0)?, path.1.parse().map_err(|_| Trouble::NoPage)?))
}

async fn of_student(visitor: Visitor, path: Path<(String, String)>) -> Result<HttpResponse, Trouble> {
    let (id, person) = whom(&path)?;
    let found = competencies::of(visitor.clinic(), visitor.credentials(), id, person).await?;
    show(&visitor, StatusCode::OK, Some(id), found, String::new())
}

/// Signs, or takes a sign-off back.
async fn act(visitor: Visitor, path: Path<(String, String)>, form: Form) -> Result<HttpResponse, Trouble> {
    let (id, person) = whom(&path)?;
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let address = format!("/classes/{id}/students/{person}/competencies");
    let once = form.once(&format!("POST {address}"))?;
    let done = match form.given("sign_off") {
        Some(sign_off) => {
            let sign_off = sign_off.parse().map_err(|_| Trouble::NoPage)?;
            let Ok(reason) = form.text("reason").parse() else {
                let found = competencies::of(clinic, credentials, id, person).await?;
                let cure = t("revoke-choose-why");
                return show(&visitor, StatusCode::UNPROCESSABLE_ENTITY, Some(id), found, cure);
            };
            competencies::revoke(clinic, credentials, &once, sign_off, &NewRevocation { reason }).await
        }
        None => {
            let competency = form.text("competency").parse().map_err(|_| Trouble::Malformed)?;
            competencies::sign(clinic, credentials, &once, (id, person), &NewSignOff { competency }).await
        }
    };
    match done {
        Ok(_) | Err(clinic::Error::KeyReused) => Ok(to(&address)),
        Err(error) => {
            let cure = form::faults(error)?.into_iter().map(|(_, cure)| cure).collect::<Vec<_>>().join(" ");
            let found = competencies::of(clinic, credentials, id, person).await?;
            show(&visitor, StatusCode::UNPROCESSABLE_ENTITY, Some(id), found, cure)
        }
    }
}

/// Whether the badge says the name too.
#[derive(Deserialize)]
struct Says {
    #[serde(default)]
    name: bool,
}

async fn badge(
    request: HttpRequest,
    visitor: Visitor,
    id: Path<String>,
    says: Query<Says>,
) -> Result<HttpResponse, Trouble> {
    let id = id.parse().map_err(|_| Trouble::NoPage)?;
    let facts = competencies::credential(visitor.clinic(), visitor.credentials(), id, says.name).await?;
    let signed = (visitor.pages().settings.credential)(&request, &facts);
    let signed = signed.ok_or_else(|| clinic::Error::internal("a credential that was not signed"))?;
    Ok(HttpResponse::Ok()
        .content_type("application/vc+jwt")
        .insert_header((header::CONTENT_DISPOSITION, "attachment; filename=\"badge.jwt\""))
        .body(signed))
}
