//! A student's progress, and where a class struggles.

use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use actix_web::web::Path;
use askama::Template;
use clinic::{progress, teaching};
use wire::bench::FindingKind;
use wire::ids::CohortId;
use wire::teaching::{
    AcceptedWork, CohortDifficulties, CriterionMark, CriterionProgress, FindingPractice, QuestionKind,
    QuestionPractice, StudentProgress,
};

use crate::answer::{file, page};
use crate::frame::Frame;
use crate::mount::Mount;
use crate::routes::classes::id_of;
use crate::texts::{t, t1, t2};
use crate::trouble::Trouble;
use crate::visitor::Visitor;

pub(super) fn routes(mount: &mut impl Mount) {
    mount.get("/progress", own);
    mount.get("/progress.ndjson", exported);
    mount.get("/classes/{id}/students/{person}/progress", of);
    mount.get("/classes/{id}/difficulties", difficulties);
}

/// One piece of work under a criterion.
struct Mark {
    of: CriterionMark,
    day: String,
    words: String,
}

struct Criterion {
    title: String,
    must_pass: bool,
    marks: Vec<Mark>,
}

/// Something to practise: what it is, how often it went wrong, and where it is practised.
struct Practice {
    name: String,
    missed: u32,
    says: String,
    /// Where the last one stands.
    last: Option<String>,
    /// The calculator that answers such questions.
    calculator: Option<(&'static str, String)>,
}

#[derive(Template)]
#[template(path = "progress.html")]
struct ProgressPage {
    frame: Frame,
    /// The class that it is read in; nothing on the student's own page.
    class: Option<(CohortId, String)>,
    /// Where the control charts and the competencies are.
    charts: String,
    competencies: String,
    practice: Vec<Practice>,
    criteria: Vec<Criterion>,
    accepted: Vec<(AcceptedWork, String, String)>,
}

async fn own(visitor: Visitor) -> Result<HttpResponse, Trouble> {
    let found = progress::own(visitor.clinic(), visitor.credentials()).await?;
    show(visitor.frame(t("progress-title")), None, found)
}

async fn of(visitor: Visitor, path: Path<(String, String)>) -> Result<HttpResponse, Trouble> {
    let id = id_of(&path.0)?;
    let person = path.1.parse().map_err(|_| Trouble::NoPage)?;
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let found = progress::of(clinic, credentials, id, person).await?;
    let name = teaching::cohort(clinic, credentials, id).await?.value.name;
    let title = t1("progress-of", found.name.clone().unwrap_or_default());
    show(visitor.frame(title), Some((id, name)), found)
}

fn show(
    frame: Frame,
    class: Option<(CohortId, String)>,
    found: StudentProgress,
) -> Result<HttpResponse, Trouble> {
    let questions = found.questions.iter().filter(|one| one.missed > 0).map(of_question);
    let mut practice: Vec<Practice> = questions.chain(found.findings.iter().map(of_finding)).collect();
    practice.sort_by_key(|one| std::cmp::Reverse(one.missed));
    let criterion = |one: CriterionProgress| Criterion {
        title: one.title,
        must_pass: one.must_pass,
        marks: one.marks.into_iter().rev().map(|mark| shown(&frame, mark)).collect(),
    };
    let criteria = found.criteria.into_iter().map(criterion).collect();
    let accepted = found.accepted.into_iter().map(|one| {
        let day = frame.short_day(&frame.day_of(&one.handed_in_at));
        let words = match one.points.zip(one.of_points) {
            Some((points, of)) => t2("points-of", i64::from(points), i64::from(of)),
            None => t("accepted-practice"),
        };
        (one, day, words)
    });
    let accepted = accepted.collect();
    let begin = match &class {
        Some((id, _)) => format!("/classes/{id}/students/{}", found.person),
        None => "/progress".to_owned(),
    };
    let (charts, competencies) = (format!("{begin}/charts"), format!("{begin}/competencies"));
    page(StatusCode::OK, &ProgressPage { class, charts, competencies, practice, criteria, accepted, frame })
}

fn shown(frame: &Frame, of: CriterionMark) -> Mark {
    let words = match (of.points.zip(of.of_points), of.met) {
        (Some((points, most)), _) => t2("points-of", i64::from(points), i64::from(most)),
        (None, Some(true)) => t("met-yes"),
        (None, _) => t("met-no"),
    };
    Mark { day: frame.short_day(&frame.day_of(&of.handed_in_at)), words, of }
}

fn of_question(one: &QuestionPractice) -> Practice {
    Practice {
        name: question_word(one.kind),
        missed: one.missed,
        says: t2("practise-questions", i64::from(one.missed), i64::from(one.questions)),
        last: one.assignment.map(|id| format!("/assignments/{id}")),
        calculator: of_kind(one.kind),
    }
}

fn of_finding(one: &FindingPractice) -> Practice {
    Practice {
        name: finding_word(one.kind),
        missed: one.with_finding,
        says: t2("practise-findings", i64::from(one.with_finding), i64::from(one.works)),
        last: Some(format!("/batches/{}", one.batch)),
        calculator: match one.kind {
            FindingKind::OutOfTolerance => Some(calculator("weighing")),
            FindingKind::YieldLow | FindingKind::Yield => Some(calculator("pressing")),
            _ => None,
        },
    }
}

/// The calculator in which a kind of question is practised, where one answers it.
fn of_kind(kind: QuestionKind) -> Option<(&'static str, String)> {
    match kind {
        QuestionKind::JarFilling => Some(calculator("proportion")),
        QuestionKind::BottleFilling => Some(calculator("units")),
        QuestionKind::SpiritDilution => Some(calculator("alcohol")),
        QuestionKind::UseBy => Some(calculator("use-by")),
        QuestionKind::MustNotUse | QuestionKind::Bank => None,
    }
}

fn calculator(slug: &'static str) -> (&'static str, String) {
    // word("calc")
    (slug, t(&format!("calc-{slug}")))
}

fn question_word(kind: QuestionKind) -> String {
    // word("question")
    t(&format!("question-{}", kind.as_str().replace('_', "-")))
}

fn finding_word(kind: FindingKind) -> String {
    // word("found")
    t(&format!("found-{}", kind.as_str().replace('_', "-")))
}

async fn exported(visitor: Visitor) -> Result<HttpResponse, Trouble> {
    let text = progress::lines(visitor.clinic(), visitor.credentials()).await?;
    Ok(file("application/x-ndjson; charset=utf-8", "progress.ndjson", text))
}

/// A line of what a class finds hard: how many of how many, in words, with the share where there is one.
struct Hard {
    name: String,
    must_pass: bool,
    count: String,
    says: String,
}

#[derive(Template)]
#[template(path = "difficulties.html")]
struct DifficultiesPage {
    frame: Frame,
    id: CohortId,
    name: String,
    rule: String,
    criteria: Vec<Hard>,
    questions: Vec<Hard>,
    findings: Vec<Hard>,
}

async fn difficulties(visitor: Visitor, id: Path<String>) -> Result<HttpResponse, Trouble> {
    let id = id_of(&id)?;
    let (clinic, credentials) = (visitor.clinic(), visitor.credentials());
    let found = progress::difficulties(clinic, credentials, id).await?;
    let name = teaching::cohort(clinic, credentials, id).await?.value.name;
    let frame = visitor.frame(t1("difficulties-title", name.clone()));
    let (criteria, questions, findings) = (of_criteria(&found), of_questions(&found), of_findings(&found));
    page(
        StatusCode::OK,
        &DifficultiesPage { frame, id, name, rule: found.rule, criteria, questions, findings },
    )
}

/// So many of so many, with the share where it is told.
fn counted(part: u32, whole: u32, percent: Option<u32>) -> String {
    let count = t2("points-of", i64::from(part), i64::from(whole));
    match percent {
        Some(percent) => t2("count-with-share", count, i64::from(percent)),
        None => count,
    }
}

fn of_criteria(found: &CohortDifficulties) -> Vec<Hard> {
    let hard = |one: &wire::teaching::CriterionDifficulty| Hard {
        name: one.title.clone(),
        must_pass: one.must_pass,
        count: counted(one.below, one.works, one.percent),
        says: if one.must_pass { t("hard-not-met") } else { t("hard-below") },
    };
    found.criteria.iter().map(hard).collect()
}

fn of_questions(found: &CohortDifficulties) -> Vec<Hard> {
    let hard = |one: &wire::teaching::QuestionDifficulty| Hard {
        name: question_word(one.kind),
        must_pass: false,
        count: counted(one.missed, one.questions, one.percent),
        says: t("hard-missed"),
    };
    found.questions.iter().map(hard).collect()
}

fn of_findings(found: &CohortDifficulties) -> Vec<Hard> {
    let hard = |one: &wire::teaching::FindingDifficulty| Hard {
        name: finding_word(one.kind),
        must_pass: false,
        count: counted(one.with_finding, one.works, one.percent),
        says: t1("hard-found", i64::from(one.findings)),
    };
    found.findings.iter().map(hard).collect()
}
