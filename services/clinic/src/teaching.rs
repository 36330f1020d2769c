//! Cohorts, assignments and questions.
//!
//! Each function serves one request in one transaction, whose first statement verifies the caller.

use store::{Credentials, IdempotencyKey, Result, Versioned};
use wire::ids::{AssignmentId, CohortCodeId, CohortId, PersonId, QuestionId};
use wire::page::{Page, PageQuery};
use wire::teaching::{
    Assignment, AssignmentChange, AssignmentContent, BankQuestion, Cohort, CohortAssignment, CohortCode,
    CohortMember, Enrol, EnrolledClass, JoinCohort, NewAnswer, NewBankQuestion, NewClass, NewCohort,
    NewCohortCode, NewWorkLimit, OwnAssignment, Question, StudentQuestions, StudentWork, WithdrawAssignment,
    WorkLimit, WorkLimits,
};

use crate::Clinic;

pub use ::teaching::Called;

/// Creates a cohort. Its creator becomes its first instructor.
///
/// # Errors
/// As [`teaching::cohort_create`].
pub async fn cohort_create(
    clinic: &Clinic,
    credentials: &Credentials,
    once: &IdempotencyKey,
    request: &NewCohort,
) -> Result<Versioned<Cohort>> {
    ::teaching::cohort_create(&clinic.store, credentials, once, request).await
}

/// The caller's cohorts, or all of them for an administrator, the newest first.
///
/// # Errors
/// As [`teaching::cohorts`].
pub async fn cohorts(clinic: &Clinic, credentials: &Credentials, query: &PageQuery) -> Result<Page<Cohort>> {
    ::teaching::cohorts(&clinic.store, credentials, query).await
}

/// One cohort, for its members and administrators.
///
/// # Errors
/// As [`teaching::cohort`].
pub async fn cohort(clinic: &Clinic, credentials: &Credentials, id: CohortId) -> Result<Versioned<Cohort>> {
    ::teaching::cohort(&clinic.store, credentials, id).await
}

/// Changes the name and the term of a cohort.
///
/// # Errors
/// As [`teaching::cohort_change`].
pub async fn cohort_change(
    clinic: &Clinic,
    credentials: &Credentials,
    id: CohortId,
    version: i64,
    request: &NewCohort,
) -> Result<Versioned<Cohort>> {
    ::teaching::cohort_change(&clinic.store, credentials, id, version, request).await
}

/// The members of a cohort by name.
///
/// # Errors
/// As [`teaching::members`].
pub async fn members(
    clinic: &Clinic,
    credentials: &Credentials,
    id: CohortId,
    query: &PageQuery,
) -> Result<Page<CohortMember>> {
    ::teaching::members(&clinic.store, credentials, id, query).await
}

/// Enrols a person, or gives a member another role.
///
/// # Errors
/// As [`teaching::enrol`].
pub async fn enrol(
    clinic: &Clinic,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: CohortId,
    request: &Enrol,
) -> Result<CohortMember> {
    ::teaching::enrol(&clinic.store, credentials, once, id, request).await
}

/// Ends a membership.
///
/// # Errors
/// As [`teaching::remove`].
pub async fn member_remove(
    clinic: &Clinic,
    credentials: &Credentials,
    id: CohortId,
    who: PersonId,
) -> Result<()> {
    ::teaching::remove(&clinic.store, credentials, id, who).await
}

/// Enrols everybody on a class list, or nobody.
///
/// # Errors
/// As [`teaching::class_enrol`].
pub async fn class_enrol(
    clinic: &Clinic,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: CohortId,
    request: &NewClass,
) -> Result<EnrolledClass> {
    ::teaching::class_enrol(&clinic.store, credentials, once, id, request).await
}

/// Creates a code to join a cohort with. Only this answer contains it.
///
/// # Errors
/// As [`teaching::code_create`].
pub async fn code_create(
    clinic: &Clinic,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: CohortId,
    request: &NewCohortCode,
) -> Result<CohortCode> {
    ::teaching::code_create(&clinic.store, credentials, once, id, request).await
}

/// The codes of a cohort, without the codes themselves.
///
/// # Errors
/// As [`teaching::codes`].
pub async fn codes(
    clinic: &Clinic,
    credentials: &Credentials,
    id: CohortId,
    query: &PageQuery,
) -> Result<Page<CohortCode>> {
    ::teaching::codes(&clinic.store, credentials, id, query).await
}

/// Closes a code.
///
/// # Errors
/// As [`teaching::code_close`].
pub async fn code_close(
    clinic: &Clinic,
    credentials: &Credentials,
    id: CohortId,
    code: CohortCodeId,
) -> Result<()> {
    ::teaching::code_close(&clinic.store, credentials, id, code).await
}

/// Joins a cohort with a code, as a student.
///
/// # Errors
/// As [`teaching::join`].
pub async fn join(
    clinic: &Clinic,
    credentials: &Credentials,
    once: &IdempotencyKey,
    request: &JoinCohort,
) -> Result<Versioned<Cohort>> {
    ::teaching::join(&clinic.store, credentials, once, request).await
}

/// Adds a question to the bank of a cohort.
///
/// # Errors
/// As [`teaching::bank_question_create`].
pub async fn bank_question_create(
    clinic: &Clinic,
    credentials: &Credentials,
    once: &IdempotencyKey,
    cohort: CohortId,
    request: &NewBankQuestion,
) -> Result<BankQuestion> {
    ::teaching::bank_question_create(&clinic.store, credentials, once, cohort, request).await
}

/// The bank of a cohort, the oldest question first.
///
/// # Errors
/// As [`teaching::bank_questions`].
pub async fn bank_questions(
    clinic: &Clinic,
    credentials: &Credentials,
    cohort: CohortId,
    query: &PageQuery,
) -> Result<Page<BankQuestion>> {
    ::teaching::bank_questions(&clinic.store, credentials, cohort, query).await
}

/// Writes an assignment for a cohort.
///
/// # Errors
/// As [`teaching::assignment_create`].
pub async fn assignment_create(
    clinic: &Clinic,
    credentials: &Credentials,
    once: &IdempotencyKey,
    cohort: CohortId,
    request: &AssignmentContent,
) -> Result<Versioned<Assignment>> {
    ::teaching::assignment_create(&clinic.store, &clinic.recipes, credentials, once, cohort, request).await
}

/// One assignment, for the members of its cohort.
///
/// # Errors
/// As [`teaching::assignment`].
pub async fn assignment(
    clinic: &Clinic,
    credentials: &Credentials,
    id: AssignmentId,
) -> Result<Versioned<Assignment>> {
    ::teaching::assignment(&clinic.store, credentials, id).await
}

/// Changes an assignment: writes another version.
///
/// # Errors
/// As [`teaching::assignment_change`].
pub async fn assignment_change(
    clinic: &Clinic,
    credentials: &Credentials,
    id: AssignmentId,
    version: i64,
    request: &AssignmentChange,
) -> Result<Versioned<Assignment>> {
    ::teaching::assignment_change(&clinic.store, &clinic.recipes, credentials, id, version, request).await
}

/// The approved formulas of the caller's libraries with these titles.
///
/// # Errors
/// As [`teaching::formulas_called`].
pub async fn formulas_called(
    clinic: &Clinic,
    credentials: &Credentials,
    titles: &[String],
) -> Result<Vec<Called>> {
    ::teaching::formulas_called(&clinic.store, credentials, titles).await
}

/// Publishes an assignment.
///
/// # Errors
/// As [`teaching::publish`].
pub async fn publish(
    clinic: &Clinic,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: AssignmentId,
) -> Result<Versioned<Assignment>> {
    ::teaching::publish(&clinic.store, credentials, once, id).await
}

/// Takes an assignment back with a reason.
///
/// # Errors
/// As [`teaching::withdraw`].
pub async fn withdraw(
    clinic: &Clinic,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: AssignmentId,
    request: &WithdrawAssignment,
) -> Result<Versioned<Assignment>> {
    ::teaching::withdraw(&clinic.store, credentials, once, id, request).await
}

/// The published assignments of the caller's cohorts, for students.
///
/// # Errors
/// As [`teaching::own_assignments`].
pub async fn own_assignments(
    clinic: &Clinic,
    credentials: &Credentials,
    query: &PageQuery,
) -> Result<Page<OwnAssignment>> {
    ::teaching::own_assignments(&clinic.store, credentials, query).await
}

/// The assignments of a cohort, with counts.
///
/// # Errors
/// As [`teaching::assignments_of`].
pub async fn assignments_of(
    clinic: &Clinic,
    credentials: &Credentials,
    cohort: CohortId,
    query: &PageQuery,
) -> Result<Page<CohortAssignment>> {
    ::teaching::assignments_of(&clinic.store, credentials, cohort, query).await
}

/// The students of an assignment, each with how far they are.
///
/// # Errors
/// As [`teaching::students`].
pub async fn students(
    clinic: &Clinic,
    credentials: &Credentials,
    id: AssignmentId,
    query: &PageQuery,
) -> Result<Page<StudentWork>> {
    ::teaching::students(&clinic.store, credentials, id, query).await
}

/// Draws the caller's questions of an assignment.
///
/// # Errors
/// As [`teaching::begin`].
pub async fn begin(
    clinic: &Clinic,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: AssignmentId,
) -> Result<StudentQuestions> {
    ::teaching::begin(&clinic.store, &clinic.recipes, credentials, once, id).await
}

/// The caller's own questions of an assignment.
///
/// # Errors
/// As [`teaching::questions_own`].
pub async fn questions_own(
    clinic: &Clinic,
    credentials: &Credentials,
    id: AssignmentId,
) -> Result<StudentQuestions> {
    ::teaching::questions_own(&clinic.store, credentials, id).await
}

/// A student's questions of an assignment, for instructors and markers.
///
/// # Errors
/// As [`teaching::questions_of`].
pub async fn questions_of(
    clinic: &Clinic,
    credentials: &Credentials,
    id: AssignmentId,
    of: PersonId,
) -> Result<StudentQuestions> {
    ::teaching::questions_of(&clinic.store, credentials, id, of).await
}

/// Answers one of the caller's questions.
///
/// # Errors
/// As [`teaching::answer`].
pub async fn answer(
    clinic: &Clinic,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: QuestionId,
    request: &NewAnswer,
) -> Result<Question> {
    ::teaching::answer(&clinic.store, credentials, once, id, request).await
}

/// Tells the instructors of a cohort what the caller cannot work with.
///
/// # Errors
/// As [`teaching::work_limit_create`].
pub async fn work_limit_create(
    clinic: &Clinic,
    credentials: &Credentials,
    once: &IdempotencyKey,
    cohort: CohortId,
    request: &NewWorkLimit,
) -> Result<WorkLimit> {
    ::teaching::work_limit_create(&clinic.store, credentials, once, cohort, request).await
}

/// What the students of a cohort cannot work with.
///
/// # Errors
/// As [`teaching::work_limits`].
pub async fn work_limits(clinic: &Clinic, credentials: &Credentials, cohort: CohortId) -> Result<WorkLimits> {
    ::teaching::work_limits(&clinic.store, credentials, cohort).await
}

/// Withdraws what the caller told.
///
/// # Errors
/// As [`teaching::work_limit_withdraw`].
pub async fn work_limit_withdraw(clinic: &Clinic, credentials: &Credentials, cohort: CohortId) -> Result<()> {
    ::teaching::work_limit_withdraw(&clinic.store, credentials, cohort).await
}
