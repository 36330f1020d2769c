//! More time for one student, and absences that are excused. Written once; the last one of a student counts.

use chrono::{DateTime, Utc};
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use locks::{Locks, Mode, lock};
use schema::{assignment_allowance, cohort_member};
use serde_json::json;
use store::{Credentials, Error, IdempotencyKey, NewEvent, Result, Store, Tx, known_as, word};
use uuid::Uuid;
use wire::ids::{AllowanceId, AssignmentId, CohortId, PersonId};
use wire::problem::FieldError;
use wire::teaching::{Allowance, AllowanceKind, CohortRole, NewAllowance};

use crate::kept::ALLOWANCE;
use crate::seat;

/// The most minutes: ninety days.
const MOST: u32 = 129_600;

/// Allows one student more time, or excuses an absence.
///
/// # Errors
/// Returns [`Error::NotFound`] unless the caller is a member of the cohort and the person one of its students,
/// [`Error::Forbidden`] unless the caller is an instructor of it, and [`Error::Invalid`] for refused fields.
pub async fn allowance_create(
    store: &Store,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: AssignmentId,
    of: PersonId,
    request: &NewAllowance,
) -> Result<Allowance> {
    store
        .create(
            credentials,
            once,
            async |tx| {
                let (cohort, _) = seat::of_assignment(tx, id).await?;
                // Alone, so that whoever hands work in meanwhile has the dates of before or of after.
                lock(tx, Locks::new().cohort(cohort, Mode::Shared).assignment(id, Mode::Exclusive)).await?;
                seat::instructor(tx, cohort).await?;
                student(tx, cohort, of).await?;
                acceptable(request)?;
                put(tx, id, of, request).await
            },
            async |tx, made| {
                let (cohort, _) = seat::of_assignment(tx, id).await?;
                seat::assessor(tx, cohort).await?;
                one(tx, made).await
            },
        )
        .await
}

/// Refuses whoever is no student of a cohort.
///
/// # Errors
/// Returns [`Error::NotFound`].
pub(crate) async fn student(tx: &mut Tx<'_>, cohort: CohortId, of: PersonId) -> Result<()> {
    let role: Option<String> = cohort_member::table
        .find((cohort.0, of.0))
        .select(cohort_member::role)
        .first(tx.conn())
        .await
        .optional()?;
    let is_student = role.as_deref() == Some(CohortRole::Student.as_str());
    is_student.then_some(()).ok_or(Error::NotFound("student"))
}

fn acceptable(request: &NewAllowance) -> Result<()> {
    let mut errors = Vec::new();
    let extra = request.kind == AllowanceKind::ExtraTime;
    match request.extra_minutes {
        Some(minutes) if extra && !(1..=MOST).contains(&minutes) => {
            let cure = format!("Enter 1 to {MOST} minutes, such as 2880 for two days.");
            errors.push(FieldError::new("/extra_minutes", cure));
        }
        None if extra => {
            errors.push(FieldError::new("/extra_minutes", "Enter the minutes, such as 2880 for two days."));
        }
        Some(_) if !extra => {
            errors.push(FieldError::new("/extra_minutes", "Only `extra_time` has minutes. Omit the field."));
        }
        _ => {}
    }
    if !(1..=2000).contains(&request.reason.trim().chars().count()) {
        errors.push(FieldError::new("/reason", "Enter a reason of 1 to 2000 characters."));
    }
    if errors.is_empty() { Ok(()) } else { Err(Error::Invalid(errors)) }
}

async fn put(tx: &mut Tx<'_>, id: AssignmentId, of: PersonId, request: &NewAllowance) -> Result<Uuid> {
    let last: Option<i32> = assignment_allowance::table
        .filter(assignment_allowance::assignment_id.eq(id.0))
        .filter(assignment_allowance::person_id.eq(of.0))
        .select(diesel::dsl::max(assignment_allowance::number))
        .first(tx.conn())
        .await?;
    let minutes = request.extra_minutes.map(i32::try_from).transpose();
    let minutes = minutes.map_err(|error| Error::Internal(error.into()))?;
    let (allowance, now, by) = (tx.new_id(), tx.now(), tx.person()?.id);
    diesel::insert_into(assignment_allowance::table)
        .values((
            assignment_allowance::id.eq(allowance),
            assignment_allowance::assignment_id.eq(id.0),
            assignment_allowance::person_id.eq(of.0),
            assignment_allowance::number.eq(last.unwrap_or_default() + 1),
            assignment_allowance::kind.eq(request.kind.as_str()),
            assignment_allowance::extra_minutes.eq(minutes),
            assignment_allowance::reason.eq(request.reason.trim()),
            assignment_allowance::given_by.eq(by.0),
            assignment_allowance::at.eq(now),
        ))
        .execute(tx.conn())
        .await?;
    tx.record(
        NewEvent::new("assignment", id.0, "allowed")
            .detail(json!({ "person": of, "kind": request.kind }))
            .keeps(&ALLOWANCE, [allowance]),
    );
    Ok(allowance)
}

type Row = (Uuid, String, Option<i32>, String, Uuid, DateTime<Utc>);

const COLUMNS: (
    assignment_allowance::id,
    assignment_allowance::kind,
    assignment_allowance::extra_minutes,
    assignment_allowance::reason,
    assignment_allowance::given_by,
    assignment_allowance::at,
) = (
    assignment_allowance::id,
    assignment_allowance::kind,
    assignment_allowance::extra_minutes,
    assignment_allowance::reason,
    assignment_allowance::given_by,
    assignment_allowance::at,
);

async fn shown(tx: &mut Tx<'_>, (id, kind, extra, reason, by, at): Row) -> Result<Allowance> {
    let names = known_as::people(tx, [by]).await?;
    Ok(Allowance {
        id: AllowanceId(id),
        kind: word(&kind)?,
        extra_minutes: extra.map(i32::unsigned_abs),
        reason,
        given_by: PersonId(by),
        given_by_name: names.of(by),
        at,
    })
}

/// One allowance, for whoever may read the work that it was given for.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn one(tx: &mut Tx<'_>, id: Uuid) -> Result<Allowance> {
    let row = assignment_allowance::table.find(id).select(COLUMNS).first(tx.conn()).await?;
    shown(tx, row).await
}

/// The allowance of a student that counts.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn in_force(tx: &mut Tx<'_>, id: AssignmentId, of: PersonId) -> Result<Option<Allowance>> {
    let row: Option<Row> = assignment_allowance::table
        .filter(assignment_allowance::assignment_id.eq(id.0))
        .filter(assignment_allowance::person_id.eq(of.0))
        .order(assignment_allowance::number.desc())
        .select(COLUMNS)
        .first(tx.conn())
        .await
        .optional()?;
    match row {
        Some(row) => Ok(Some(shown(tx, row).await?)),
        None => Ok(None),
    }
}
