//! Versions of an assignment: written once, never changed.

use chrono::{DateTime, Utc};
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use schema::{assignment, assignment_formula, assignment_question, assignment_version};
use store::{Error, NewEvent, Result, Tx, word};
use uuid::Uuid;
use wire::ids::{AssignmentId, BankQuestionId, CohortId, FormulaId, RevisionId};
use wire::teaching::{AssignmentQuestion, AssignmentState};

use crate::content::Accepted;
use crate::kept::{ASSIGNMENT, VERSION};
use crate::stored::Assessed;

/// An assignment as it is stored.
#[derive(Queryable, Selectable)]
#[diesel(table_name = assignment, check_for_backend(diesel::pg::Pg))]
pub(crate) struct Row {
    pub(crate) id: Uuid,
    pub(crate) cohort_id: Uuid,
    state: String,
    pub(crate) current_version: i32,
    pub(crate) version: i64,
    pub(crate) secret: Vec<u8>,
}

impl Row {
    pub(crate) fn state(&self) -> Result<AssignmentState> {
        word(&self.state)
    }

    pub(crate) const fn cohort(&self) -> CohortId {
        CohortId(self.cohort_id)
    }
}

/// The row of an assignment, without a check of the caller.
///
/// # Errors
/// Returns [`Error::NotFound`] if there is none.
pub(crate) async fn row(tx: &mut Tx<'_>, id: AssignmentId) -> Result<Row> {
    let found = assignment::table.find(id.0).select(Row::as_select()).first(tx.conn()).await.optional()?;
    found.ok_or(Error::NotFound("assignment"))
}

/// A version as it is stored.
#[derive(Queryable, Selectable)]
#[diesel(table_name = assignment_version, check_for_backend(diesel::pg::Pg))]
pub(crate) struct Version {
    pub(crate) title: String,
    pub(crate) instructions: String,
    pub(crate) quantity: String,
    pub(crate) opens_at: DateTime<Utc>,
    pub(crate) due_at: DateTime<Utc>,
    pub(crate) late_until: Option<DateTime<Utc>>,
    pub(crate) attempts: i16,
    pub(crate) returns_allowed: i16,
    pub(crate) rubric: serde_json::Value,
    pub(crate) marked_blind: Option<bool>,
}

/// The version of an assignment that is in force.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn in_force(tx: &mut Tx<'_>, of: &Row) -> Result<Version> {
    let found = assignment_version::table.find((of.id, of.current_version)).select(Version::as_select());
    Ok(found.first(tx.conn()).await?)
}

/// The formulas of the version in force, in order.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn formulas(tx: &mut Tx<'_>, of: &Row) -> Result<Vec<(RevisionId, FormulaId)>> {
    let rows: Vec<(Uuid, Uuid)> = assignment_formula::table
        .filter(assignment_formula::assignment_id.eq(of.id))
        .filter(assignment_formula::version_number.eq(of.current_version))
        .order(assignment_formula::position)
        .select((assignment_formula::revision_id, assignment_formula::formula_id))
        .load(tx.conn())
        .await?;
    Ok(rows.into_iter().map(|(revision, formula)| (RevisionId(revision), FormulaId(formula))).collect())
}

/// The questions of the version in force, in order.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn questions(tx: &mut Tx<'_>, of: &Row) -> Result<Vec<AssignmentQuestion>> {
    let rows: Vec<(String, Option<Uuid>)> = assignment_question::table
        .filter(assignment_question::assignment_id.eq(of.id))
        .filter(assignment_question::version_number.eq(of.current_version))
        .order(assignment_question::position)
        .select((assignment_question::kind, assignment_question::bank_question_id))
        .load(tx.conn())
        .await?;
    rows.into_iter()
        .map(|(kind, bank)| {
            Ok(AssignmentQuestion { kind: word(&kind)?, bank_question: bank.map(BankQuestionId) })
        })
        .collect()
}

fn position(place: usize) -> Result<i16> {
    i16::try_from(place + 1).map_err(|error| Error::Internal(error.into()))
}

/// Writes a version. The caller holds the assignment alone.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn insert(
    tx: &mut Tx<'_>,
    id: AssignmentId,
    number: i32,
    content: &Accepted,
    reason: Option<&str>,
) -> Result<()> {
    let (by, now) = (tx.person()?.id, tx.now());
    diesel::insert_into(assignment_version::table)
        .values((
            assignment_version::assignment_id.eq(id.0),
            assignment_version::number.eq(number),
            assignment_version::title.eq(&content.title),
            assignment_version::instructions.eq(&content.instructions),
            assignment_version::quantity.eq(&content.quantity),
            assignment_version::opens_at.eq(content.opens_at),
            assignment_version::due_at.eq(content.due_at),
            assignment_version::late_until.eq(content.late_until),
            assignment_version::attempts.eq(content.attempts),
            assignment_version::returns_allowed.eq(content.returns_allowed),
            assignment_version::rubric.eq(serde_json::to_value(Assessed::of(&content.rubric))?),
            assignment_version::marked_blind.eq(content.marked_blind.then_some(true)),
            assignment_version::reason.eq(reason),
            assignment_version::created_by.eq(by.0),
            assignment_version::created_at.eq(now),
        ))
        .execute(tx.conn())
        .await?;
    let formulas: Vec<_> = (0..)
        .zip(&content.formulas)
        .map(|(place, (revision, formula))| {
            Ok((
                assignment_formula::assignment_id.eq(id.0),
                assignment_formula::version_number.eq(number),
                assignment_formula::position.eq(position(place)?),
                assignment_formula::revision_id.eq(revision.0),
                assignment_formula::formula_id.eq(formula.0),
            ))
        })
        .collect::<Result<_>>()?;
    diesel::insert_into(assignment_formula::table).values(formulas).execute(tx.conn()).await?;
    let questions: Vec<_> = (0..)
        .zip(&content.questions)
        .map(|(place, question)| {
            Ok((
                assignment_question::assignment_id.eq(id.0),
                assignment_question::version_number.eq(number),
                assignment_question::position.eq(position(place)?),
                assignment_question::kind.eq(question.kind.as_str()),
                assignment_question::bank_question_id.eq(question.bank_question.map(|id| id.0)),
            ))
        })
        .collect::<Result<_>>()?;
    diesel::insert_into(assignment_question::table).values(questions).execute(tx.conn()).await?;
    let action = if number == 1 { "created" } else { "changed" };
    tx.record(
        NewEvent::new("assignment", id.0, action)
            .detail(serde_json::json!({ "version": number }))
            .keeps(&VERSION, [id.0.to_string(), number.to_string()])
            .keeps(&ASSIGNMENT, [id.0]),
    );
    Ok(())
}
