//! The content of an assignment, checked before it is kept: every refused field with its cure.

use chrono::{DateTime, Utc};
use chrono_tz::Tz;
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use galenics::{Measure, Quantity};
use recipes::RecipeCache;
use schema::bank_question;
use store::{Error, Result, Tx, names};
use uuid::Uuid;
use wire::formulary::RevisionState;
use wire::ids::{BankQuestionId, CohortId, FormulaId, RevisionId};
use wire::problem::FieldError;
use wire::teaching::{AssignmentContent, AssignmentQuestion, QuestionKind, Rubric};

use crate::questions::source;
use crate::{local, rubric};

/// An assignment that was accepted.
pub(crate) struct Accepted {
    pub(crate) title: String,
    pub(crate) instructions: String,
    pub(crate) quantity: String,
    pub(crate) opens_at: DateTime<Utc>,
    pub(crate) due_at: DateTime<Utc>,
    pub(crate) late_until: Option<DateTime<Utc>>,
    pub(crate) attempts: i16,
    pub(crate) returns_allowed: i16,
    pub(crate) rubric: Rubric,
    pub(crate) marked_blind: bool,
    pub(crate) formulas: Vec<(RevisionId, FormulaId)>,
    pub(crate) questions: Vec<AssignmentQuestion>,
}

const MOST_FORMULAS: usize = 10;
const MOST_QUESTIONS: usize = 20;

/// Checks the content of an assignment of a cohort; `at` is where it stands in the request.
///
/// # Errors
/// Returns [`Error::Invalid`] with every refused field.
pub(crate) async fn accept(
    tx: &mut Tx<'_>,
    cache: &RecipeCache,
    cohort: CohortId,
    zone: Tz,
    content: &AssignmentContent,
    at: &str,
) -> Result<Accepted> {
    let mut errors = Vec::new();
    texts(content, at, &mut errors);
    errors.extend(rubric::faults(&content.rubric, &format!("{at}/rubric")));
    let dates = dates(content, zone, at, &mut errors);
    let customary = policy::rules(tx).await?.customary;
    match Quantity::parse_with(&content.quantity, customary) {
        Ok(quantity) if matches!(quantity.measure(), Measure::Drops { .. }) => {
            errors.push(FieldError::new(format!("{at}/quantity"), "Enter a mass or a volume, such as 300 g."))
        }
        Ok(_) => {}
        Err(error) => errors.push(FieldError::new(format!("{at}/quantity"), error.to_string())),
    }
    let formulas = formulas(tx, content, at, &mut errors).await?;
    questions(tx, cache, cohort, content, at, &formulas, &mut errors).await?;
    let (true, Some((opens_at, due_at, late_until))) = (errors.is_empty(), dates) else {
        return Err(Error::Invalid(errors));
    };
    Ok(Accepted {
        title: content.title.trim().to_owned(),
        instructions: content.instructions.trim().to_owned(),
        quantity: content.quantity.trim().to_owned(),
        opens_at,
        due_at,
        late_until,
        attempts: content.attempts.into(),
        returns_allowed: content.returns_allowed.into(),
        rubric: content.rubric.clone(),
        marked_blind: content.marked_blind,
        formulas,
        questions: content.questions.clone(),
    })
}

fn texts(content: &AssignmentContent, at: &str, errors: &mut Vec<FieldError>) {
    let title = content.title.trim();
    if !(1..=200).contains(&title.chars().count()) {
        errors.push(FieldError::new(format!("{at}/title"), "Enter a title of 1 to 200 characters."));
    }
    errors.extend(names::refusal(format!("{at}/title"), title));
    if content.instructions.trim().chars().count() > 8000 {
        errors.push(FieldError::new(format!("{at}/instructions"), "Enter at most 8000 characters."));
    }
    if !(1..=10).contains(&content.attempts) {
        errors.push(FieldError::new(format!("{at}/attempts"), "Enter 1 to 10 attempts."));
    }
    if content.returns_allowed > 10 {
        errors.push(FieldError::new(format!("{at}/returns_allowed"), "Enter 0 to 10 returns."));
    }
}

type Dates = (DateTime<Utc>, DateTime<Utc>, Option<DateTime<Utc>>);

fn dates(content: &AssignmentContent, zone: Tz, at: &str, errors: &mut Vec<FieldError>) -> Option<Dates> {
    let mut read = |field: &str, text: &str| match local::read(text, zone) {
        Ok(moment) => Some(moment),
        Err(cure) => {
            errors.push(FieldError::new(format!("{at}/{field}"), cure));
            None
        }
    };
    let opens = read("opens", &content.opens);
    let due = read("due", &content.due);
    let late = content.late_until.as_deref().map(|text| read("late_until", text));
    if let (Some(opens), Some(due)) = (opens, due)
        && due <= opens
    {
        errors.push(FieldError::new(
            format!("{at}/due"),
            "The assignment is due before it opens. Enter a time after its opening.",
        ));
    }
    if let (Some(due), Some(Some(late))) = (due, late)
        && late <= due
    {
        errors.push(FieldError::new(
            format!("{at}/late_until"),
            "Late work would end before the assignment is due. Enter a later time, or leave the field out.",
        ));
    }
    Some((opens?, due?, late.flatten()))
}

/// The formulas, each an approved revision that the caller may see.
async fn formulas(
    tx: &mut Tx<'_>,
    content: &AssignmentContent,
    at: &str,
    errors: &mut Vec<FieldError>,
) -> Result<Vec<(RevisionId, FormulaId)>> {
    if content.formulas.is_empty() || content.formulas.len() > MOST_FORMULAS {
        let cure = format!("Enter 1 to {MOST_FORMULAS} approved revisions, by ID.");
        errors.push(FieldError::new(format!("{at}/formulas"), cure));
        return Ok(Vec::new());
    }
    let mut found: Vec<(RevisionId, FormulaId)> = Vec::new();
    for (i, id) in content.formulas.iter().enumerate() {
        let mut refuse = |cure: String| errors.push(FieldError::new(format!("{at}/formulas/{i}"), cure));
        match formulary::visible(tx, *id).await {
            Ok(facts) if facts.state != RevisionState::Approved => {
                refuse(format!("This revision is {}. Name an approved revision.", facts.state));
            }
            Ok(facts) if found.iter().any(|(_, formula)| *formula == facts.formula) => {
                refuse("This formula is named already. Remove one of its revisions.".into());
            }
            Ok(facts) => found.push((*id, facts.formula)),
            Err(Error::NotFound(_)) => {
                refuse("No revision with this ID is visible to you. Check the ID.".into());
            }
            Err(other) => return Err(other),
        }
    }
    Ok(found)
}

async fn questions(
    tx: &mut Tx<'_>,
    cache: &RecipeCache,
    cohort: CohortId,
    content: &AssignmentContent,
    at: &str,
    formulas: &[(RevisionId, FormulaId)],
    errors: &mut Vec<FieldError>,
) -> Result<()> {
    if content.questions.len() > MOST_QUESTIONS {
        errors.push(FieldError::new(
            format!("{at}/questions"),
            format!("Enter at most {MOST_QUESTIONS} questions."),
        ));
        return Ok(());
    }
    let asked: Vec<Uuid> =
        content.questions.iter().filter_map(|question| question.bank_question).map(|id| id.0).collect();
    let of_bank: Vec<Uuid> = bank_question::table
        .filter(bank_question::id.eq_any(asked))
        .filter(bank_question::cohort_id.eq(cohort.0))
        .select(bank_question::id)
        .load(tx.conn())
        .await?;
    for (i, question) in content.questions.iter().enumerate() {
        let cure = bank_fault(question, &of_bank);
        if let Some(cure) = cure {
            errors.push(FieldError::new(format!("{at}/questions/{i}/bank_question"), cure));
        }
    }
    let Some((first, _)) = formulas.first().filter(|_| errors.is_empty()) else { return Ok(()) };
    let kinds: Vec<QuestionKind> = content.questions.iter().map(|question| question.kind).collect();
    let day = policy::rules(tx).await?.date(tx.now());
    let source = source::read(tx, cache, *first, &kinds, day).await?;
    for (i, kind) in kinds.iter().enumerate() {
        if let Some(cure) = source.cannot_ask(*kind) {
            errors.push(FieldError::new(format!("{at}/questions/{i}/kind"), cure));
        }
    }
    Ok(())
}

fn bank_fault(question: &AssignmentQuestion, of_bank: &[Uuid]) -> Option<&'static str> {
    match (question.kind, question.bank_question) {
        (QuestionKind::Bank, None) => Some("Name a question of the cohort's bank, by ID."),
        (QuestionKind::Bank, Some(BankQuestionId(id))) if !of_bank.contains(&id) => {
            Some("The cohort's bank has no question with this ID. Check the ID.")
        }
        (QuestionKind::Bank, Some(_)) | (_, None) => None,
        (_, Some(_)) => Some("Only a question of the kind bank names one. Omit the field."),
    }
}
