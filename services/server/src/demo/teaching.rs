//! The demo's class: a term, work on the cream with its questions, and a student who has answered them.

use chrono::{DateTime, Duration, Utc};
use clinic::{Clinic, Credentials, teaching, work};
use wire::bench::FindingKind;
use wire::ids::{AssignmentId, CohortId, PersonId, RevisionId};
use wire::teaching::{
    AllowanceKind, AssignmentContent, AssignmentQuestion, BankAnswer, BankChoice, CohortRole, Enrol,
    MustPassKind, NewAllowance, NewAnswer, NewBankQuestion, NewCohort, PartAnswer, Question, QuestionKind,
    Rubric, RubricCriterion, RubricLevel,
};

use super::requests::once;
use crate::error::StartError;

/// Loads the class. The work is open, and the student has answered: first without the loss, then rightly. Answers the work.
pub(super) async fn load(
    clinic: &Clinic,
    author: &Credentials,
    marker: PersonId,
    student: (Credentials, PersonId),
    others: &[PersonId],
    cream: RevisionId,
) -> Result<AssignmentId, StartError> {
    let now = clinic.clock().now();
    let today = now.date_naive();
    let cohort = NewCohort {
        name: "First year".into(),
        starts_on: today,
        ends_on: today + Duration::days(120),
        time_zone: "Europe/Berlin".into(),
    };
    let cohort = teaching::cohort_create(clinic, author, &once(clinic), &cohort).await?.value.id;
    let students = others.iter().map(|person| (*person, CohortRole::Student));
    let members = [(marker, CohortRole::Marker), (student.1, CohortRole::Student)];
    for (person, role) in members.into_iter().chain(students) {
        teaching::enrol(clinic, author, &once(clinic), cohort, &Enrol { person, role }).await?;
    }
    let content = content(clinic, author, cohort, cream, now).await?;
    let made = teaching::assignment_create(clinic, author, &once(clinic), cohort, &content).await?;
    teaching::publish(clinic, author, &once(clinic), made.value.id).await?;
    let allowance = NewAllowance {
        kind: AllowanceKind::ExtraTime,
        extra_minutes: Some(2880),
        reason: "Two days more, as agreed for written work.".into(),
    };
    work::allowance_create(clinic, author, &once(clinic), made.value.id, student.1, &allowance).await?;
    answered(clinic, &student.0, made.value.id).await?;
    Ok(made.value.id)
}

/// A student answers the questions of the work.
pub(super) async fn answered(
    clinic: &Clinic,
    student: &Credentials,
    assignment: AssignmentId,
) -> Result<(), StartError> {
    let begun = teaching::begin(clinic, student, &once(clinic), assignment).await?;
    for question in &begun.questions {
        for values in answers(question) {
            let parts = question.parts.iter().map(|part| part.part.clone());
            let answers = parts.map(|part| PartAnswer { part, values: vec![values.clone()] }).collect();
            teaching::answer(clinic, student, &once(clinic), question.id, &NewAnswer { answers }).await?;
        }
    }
    Ok(())
}

async fn content(
    clinic: &Clinic,
    author: &Credentials,
    cohort: CohortId,
    cream: RevisionId,
    now: DateTime<Utc>,
) -> Result<AssignmentContent, StartError> {
    let bank = NewBankQuestion {
        text: "Both phases are at 70 °C when you combine them. Why not the water at 20 °C?".into(),
        answer: BankAnswer { number: None, choice: Some(choice()) },
        worked: "Cold water sets the wax at once, and the emulsion stays coarse.".into(),
    };
    let bank = teaching::bank_question_create(clinic, author, &once(clinic), cohort, &bank).await?.id;
    let at = |days: i64| (now + Duration::days(days)).format("%Y-%m-%dT%H:%M:%SZ").to_string();
    let question = |kind, bank_question| AssignmentQuestion { kind, bank_question };
    Ok(AssignmentContent {
        title: "Make a calendula cream".into(),
        instructions: "Answer the questions, read the cautions, then make the cream and fill your jars."
            .into(),
        formulas: vec![cream],
        quantity: "300 g".into(),
        opens: at(0),
        due: at(14),
        late_until: Some(at(21)),
        attempts: 3,
        returns_allowed: 1,
        marked_blind: false,
        rubric: rubric(),
        questions: vec![question(QuestionKind::JarFilling, None), question(QuestionKind::Bank, Some(bank))],
    })
}

fn choice() -> BankChoice {
    let options = ["Cold water sets the wax", "Cold water browns the oil", "It makes no difference"];
    BankChoice { options: options.map(str::to_owned).to_vec(), right: 1 }
}

fn rubric() -> Rubric {
    let level = |(title, points): (&str, u32)| RubricLevel { title: title.into(), points };
    let criterion = |title: &str, levels: [(&str, u32); 3], findings: &[FindingKind]| RubricCriterion {
        title: title.into(),
        must_pass: false,
        must_pass_kind: None,
        levels: levels.map(level).to_vec(),
        findings: findings.to_vec(),
    };
    let weighing = [
        ("Several lines are outside tolerance.", 0),
        ("One line is outside tolerance.", 3),
        ("Every line is within tolerance.", 6),
    ];
    let emulsion = [("It parted.", 0), ("It is grainy.", 2), ("It is smooth and stable.", 4)];
    let lots = RubricCriterion {
        title: "Every lot is recorded".into(),
        must_pass: true,
        must_pass_kind: Some(MustPassKind::MissingLot),
        levels: Vec::new(),
        findings: vec![FindingKind::Missing],
    };
    let weighing = criterion("Weighing", weighing, &[FindingKind::OutOfTolerance]);
    let criteria = vec![weighing, criterion("Emulsion", emulsion, &[]), lots];
    Rubric { total_points: 10, criteria, practice: false }
}

/// What the student answers, the last one rightly.
fn answers(question: &Question) -> Vec<String> {
    if question.kind == QuestionKind::Bank {
        return vec![choice().options.into_iter().next().unwrap_or_default()];
    }
    let given = |name: &str| {
        let found = question.given.iter().find(|given| given.name.contains(name));
        found.and_then(|given| given.value.split(' ').next()?.parse::<f64>().ok()).unwrap_or_default()
    };
    let contents = given("number") * (given("full") - given("empty"));
    let share = given("share of") / 100.0;
    let right = contents / (1.0 - given("loss") / 100.0) * share;
    [contents * share, right].iter().map(|grams| format!("{grams:.3} g")).collect()
}
