//! What the caller is in a cohort. Every right of this crate rests on it.

use diesel::dsl::not;
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use schema::{assignment, assignment_work, cohort, cohort_member};
use store::sql::blind_work;
use store::{Error, Result, Tx, word};
use uuid::Uuid;
use wire::ids::{AssignmentId, CohortId};
use wire::people::Role;
use wire::teaching::{AssignmentState, CohortRole};

/// What the caller is in a cohort.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Seat {
    /// A member.
    Member(CohortRole),
    /// An administrator, who looks after people and sees no work.
    Administrator,
}

impl Seat {
    /// The role of a member.
    pub(crate) const fn role(self) -> Option<CohortRole> {
        match self {
            Self::Member(role) => Some(role),
            Self::Administrator => None,
        }
    }
}

/// Whether a role of the clinic permits a role in a cohort. A membership whose person got another role gives nothing.
pub(crate) const fn fits(role: Role, in_cohort: CohortRole) -> bool {
    matches!(
        (role, in_cohort),
        (Role::Student, CohortRole::Student)
            | (Role::Instructor, CohortRole::Instructor | CohortRole::Marker)
    )
}

async fn role_in(tx: &mut Tx<'_>, id: CohortId) -> Result<Option<CohortRole>> {
    let me = tx.person()?;
    let role: Option<String> = cohort_member::table
        .find((id.0, me.id.0))
        .select(cohort_member::role)
        .first(tx.conn())
        .await
        .optional()?;
    let role: Option<CohortRole> = role.as_deref().map(word).transpose()?;
    Ok(role.filter(|role| fits(me.role, *role)))
}

/// What the caller is in a cohort.
///
/// # Errors
/// Returns [`Error::NotFound`] if there is no such cohort, or the caller is neither a member nor an administrator.
pub(crate) async fn seat(tx: &mut Tx<'_>, id: CohortId) -> Result<Seat> {
    if let Some(role) = role_in(tx, id).await? {
        return Ok(Seat::Member(role));
    }
    if tx.person()?.role == Role::Administrator {
        let found: Option<Uuid> =
            cohort::table.find(id.0).select(cohort::id).first(tx.conn()).await.optional()?;
        if found.is_some() {
            return Ok(Seat::Administrator);
        }
    }
    Err(Error::NotFound("cohort"))
}

/// Whoever looks after the people of a cohort: its instructors, and administrators.
///
/// # Errors
/// As [`seat`]; returns [`Error::Forbidden`] for students and markers.
pub(crate) async fn keeper(tx: &mut Tx<'_>, id: CohortId) -> Result<Seat> {
    match seat(tx, id).await? {
        Seat::Member(CohortRole::Student | CohortRole::Marker) => Err(Error::Forbidden(
            "Only the cohort's instructors and administrators may do this. Ask one of them.".into(),
        )),
        seat => Ok(seat),
    }
}

/// Those who set work: the cohort's instructors.
///
/// # Errors
/// Returns [`Error::NotFound`] unless the caller is a member, and [`Error::Forbidden`] for students and markers.
pub(crate) async fn instructor(tx: &mut Tx<'_>, id: CohortId) -> Result<()> {
    match member(tx, id).await? {
        CohortRole::Instructor => Ok(()),
        CohortRole::Student | CohortRole::Marker => {
            Err(Error::Forbidden("Only the cohort's instructors may do this. Ask one of them.".into()))
        }
    }
}

/// Those who see everybody's work: instructors and markers.
///
/// # Errors
/// Returns [`Error::NotFound`] unless the caller is a member, and [`Error::Forbidden`] for students.
pub(crate) async fn assessor(tx: &mut Tx<'_>, id: CohortId) -> Result<()> {
    match member(tx, id).await? {
        CohortRole::Instructor | CohortRole::Marker => Ok(()),
        CohortRole::Student => Err(Error::Forbidden(
            "Only the cohort's instructors and markers may do this. Read your own work instead.".into(),
        )),
    }
}

/// The caller's role in a cohort.
///
/// # Errors
/// Returns [`Error::NotFound`] unless the caller is a member.
pub(crate) async fn member(tx: &mut Tx<'_>, id: CohortId) -> Result<CohortRole> {
    role_in(tx, id).await?.ok_or(Error::NotFound("cohort"))
}

/// As [`member`], of the cohort of an assignment: what is hidden then is the assignment. Students see published ones.
///
/// # Errors
/// Returns [`Error::NotFound`] for everybody else.
pub(crate) async fn of_assignment(tx: &mut Tx<'_>, id: AssignmentId) -> Result<(CohortId, CohortRole)> {
    let found: Option<(Uuid, String)> = assignment::table
        .find(id.0)
        .select((assignment::cohort_id, assignment::state))
        .first(tx.conn())
        .await
        .optional()?;
    let (of, state) = found.ok_or(Error::NotFound("assignment"))?;
    let role = role_in(tx, CohortId(of)).await?.ok_or(Error::NotFound("assignment"))?;
    if role == CohortRole::Student && state != AssignmentState::Published.as_str() {
        return Err(Error::NotFound("assignment"));
    }
    Ok((CohortId(of), role))
}

/// Whether the caller may read the events of a cohort, an assignment or a student's work on one: instructors and markers of
/// the cohort may.
///
/// # Errors
/// Returns the errors of the database.
pub async fn may_read_events(tx: &mut Tx<'_>, subject: Uuid) -> Result<bool> {
    let me = tx.person()?.id.0;
    let of_work = assignment_work::table
        .inner_join(assignment::table)
        .filter(assignment_work::id.eq(subject))
        .filter(not(blind_work(assignment_work::id, me)))
        .select(assignment::cohort_id)
        .first(tx.conn())
        .await
        .optional()?;
    let of_assignment: Option<Uuid> =
        assignment::table.find(subject).select(assignment::cohort_id).first(tx.conn()).await.optional()?;
    let of = of_work.or(of_assignment).unwrap_or(subject);
    let role = role_in(tx, CohortId(of)).await?;
    Ok(matches!(role, Some(CohortRole::Instructor | CohortRole::Marker)))
}
