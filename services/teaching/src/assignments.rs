//! Assignments: writing, publishing, changing by version, and taking back.

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use locks::{Locks, Mode, lock};
use recipes::RecipeCache;
use schema::assignment;
use store::{Credentials, Error, IdempotencyKey, NewEvent, Result, Store, Tx, Versioned};
use wire::formulary::RevisionState;
use wire::ids::{AssignmentId, CohortId};
use wire::problem::FieldError;
use wire::teaching::{Assignment, AssignmentChange, AssignmentContent, AssignmentState, WithdrawAssignment};

use crate::content::{self, Accepted};
use crate::kept::ASSIGNMENT;
use crate::{cohorts, seat, show, versions};

/// The permitted transitions.
const fn may_become(from: AssignmentState, to: AssignmentState) -> bool {
    use AssignmentState as S;
    matches!((from, to), (S::Draft, S::Published) | (S::Draft | S::Published, S::Withdrawn))
}

fn check(from: AssignmentState, to: AssignmentState) -> Result<()> {
    if may_become(from, to) {
        return Ok(());
    }
    Err(Error::state(from, format!("This assignment is {from} and cannot become {to}. Write another one.")))
}

/// Writes an assignment for a cohort. Only its instructors and markers see it until it is published.
///
/// # Errors
/// Refuses all but the cohort's instructors; returns [`Error::Invalid`] with every refused field.
pub async fn assignment_create(
    store: &Store,
    cache: &RecipeCache,
    credentials: &Credentials,
    once: &IdempotencyKey,
    cohort: CohortId,
    request: &AssignmentContent,
) -> Result<Versioned<Assignment>> {
    store
        .create(
            credentials,
            once,
            async |tx| {
                lock(tx, Locks::new().cohort(cohort, Mode::Shared)).await?;
                seat::instructor(tx, cohort).await?;
                let zone = cohorts::class(tx, cohort).await?.zone;
                let content = content::accept(tx, cache, cohort, zone, request, "").await?;
                let (id, now, by) = (tx.new_id(), tx.now(), tx.person()?.id);
                let secret: [u8; 32] = tx.rng.bytes();
                diesel::insert_into(assignment::table)
                    .values((
                        assignment::id.eq(id),
                        assignment::cohort_id.eq(cohort.0),
                        assignment::state.eq(AssignmentState::Draft.as_str()),
                        assignment::current_version.eq(1),
                        assignment::version.eq(1_i64),
                        assignment::secret.eq(&secret[..]),
                        assignment::created_by.eq(by.0),
                        assignment::created_at.eq(now),
                    ))
                    .execute(tx.conn())
                    .await?;
                versions::insert(tx, AssignmentId(id), 1, &content, None).await?;
                Ok(id)
            },
            async |tx, id| seen(tx, AssignmentId(id)).await,
        )
        .await
}

/// One assignment, for the members of its cohort. Students see it once it is published.
///
/// # Errors
/// Returns [`Error::NotFound`] for everybody else.
pub async fn assignment(
    store: &Store,
    credentials: &Credentials,
    id: AssignmentId,
) -> Result<Versioned<Assignment>> {
    store.read(credentials, async |tx| seen(tx, id).await).await
}

async fn seen(tx: &mut Tx<'_>, id: AssignmentId) -> Result<Versioned<Assignment>> {
    seat::of_assignment(tx, id).await?;
    let row = versions::row(tx, id).await?;
    Ok(Versioned { version: row.version, value: show::assignment(tx, &row).await? })
}

/// The assignment that an instructor is about to change, held alone.
async fn held(tx: &mut Tx<'_>, id: AssignmentId, version: Option<i64>) -> Result<versions::Row> {
    let (cohort, _) = seat::of_assignment(tx, id).await?;
    lock(tx, Locks::new().cohort(cohort, Mode::Shared).assignment(id, Mode::Exclusive)).await?;
    // Read again: the membership may have ended meanwhile.
    seat::of_assignment(tx, id).await?;
    seat::instructor(tx, cohort).await?;
    let row = versions::row(tx, id).await?;
    if version.is_some_and(|version| version != row.version) {
        return Err(Error::PreconditionFailed);
    }
    Ok(row)
}

/// Changes an assignment: writes another version. Of a published one, formulas and questions stay, since students have
/// their numbers; a later revision of the same formula may take the place of an earlier one.
///
/// # Errors
/// Returns [`Error::NotFound`] unless the caller is a member, [`Error::Forbidden`] unless an instructor,
/// [`Error::PreconditionFailed`] if `version` is not the current one, [`Error::State`] if it was withdrawn, and
/// [`Error::Invalid`] with every refused field.
pub async fn assignment_change(
    store: &Store,
    cache: &RecipeCache,
    credentials: &Credentials,
    id: AssignmentId,
    version: i64,
    request: &AssignmentChange,
) -> Result<Versioned<Assignment>> {
    store
        .write(credentials, async |tx| {
            let row = held(tx, id, Some(version)).await?;
            let state = row.state()?;
            if state == AssignmentState::Withdrawn {
                return Err(Error::state(state, "This assignment was withdrawn. Write another one."));
            }
            let zone = cohorts::class(tx, row.cohort()).await?.zone;
            let content =
                content::accept(tx, cache, row.cohort(), zone, &request.content, "/content").await?;
            let reason = request.reason.as_deref().map(str::trim).filter(|reason| !reason.is_empty());
            if state == AssignmentState::Published {
                stays(tx, &row, &content, reason).await?;
            } else if reason.is_some_and(|reason| reason.chars().count() > 2000) {
                return Err(Error::field("/reason", "Enter at most 2000 characters."));
            }
            let number = row.current_version + 1;
            diesel::update(assignment::table.find(id.0))
                .set((assignment::current_version.eq(number), assignment::version.eq(row.version + 1)))
                .execute(tx.conn())
                .await?;
            versions::insert(tx, id, number, &content, reason).await?;
            seen(tx, id).await
        })
        .await
}

/// What may not change of a published assignment, and that the change has its reason.
async fn stays(tx: &mut Tx<'_>, row: &versions::Row, content: &Accepted, reason: Option<&str>) -> Result<()> {
    let mut errors = Vec::new();
    if reason.is_none_or(|reason| reason.chars().count() > 2000) {
        errors.push(FieldError::new(
            "/reason",
            "A published assignment changes with a reason that its students read. Enter 1 to 2000 characters.",
        ));
    }
    let before = versions::formulas(tx, row).await?;
    let same = before.iter().map(|(_, formula)| formula).eq(content.formulas.iter().map(|(_, it)| it));
    if !same {
        errors.push(FieldError::new(
            "/content/formulas",
            "A published assignment keeps its formulas. Name them in the same order, or withdraw it and write another.",
        ));
    }
    if versions::questions(tx, row).await? != content.questions {
        errors.push(FieldError::new(
            "/content/questions",
            "A published assignment keeps its questions. Leave them, or withdraw it and write another.",
        ));
    }
    let was_blind = versions::in_force(tx, row).await?.marked_blind.unwrap_or_default();
    if content.marked_blind && !was_blind {
        errors.push(FieldError::new(
            "/content/marked_blind",
            "Names were shown since this assignment was published. Send false, or withdraw it and write another.",
        ));
    }
    if errors.is_empty() { Ok(()) } else { Err(Error::Invalid(errors)) }
}

/// Publishes an assignment: from its opening on it holds the recipes of its formulas shut for each student of the cohort
/// who has not answered its questions.
///
/// # Errors
/// As [`assignment_change`]; returns [`Error::State`] if it is no draft, was due already, or names a revision that may no
/// longer be made.
pub async fn publish(
    store: &Store,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: AssignmentId,
) -> Result<Versioned<Assignment>> {
    store
        .create(
            credentials,
            once,
            async |tx| {
                let row = held(tx, id, None).await?;
                check(row.state()?, AssignmentState::Published)?;
                may_be_published(tx, &row).await?;
                let now = tx.now();
                diesel::update(assignment::table.find(id.0))
                    .set((
                        assignment::state.eq(AssignmentState::Published.as_str()),
                        assignment::version.eq(row.version + 1),
                        assignment::published_at.eq(now),
                    ))
                    .execute(tx.conn())
                    .await?;
                tx.record(NewEvent::new("assignment", id.0, "published").keeps(&ASSIGNMENT, [id.0]));
                Ok(id.0)
            },
            async |tx, id| seen(tx, AssignmentId(id)).await,
        )
        .await
}

/// Whether every formula may still be made and the time to do it has not passed. The formulas stay as they are until the
/// transaction ends.
async fn may_be_published(tx: &mut Tx<'_>, row: &versions::Row) -> Result<()> {
    let state = AssignmentState::Draft;
    let formulas = versions::formulas(tx, row).await?;
    // Whoever acknowledges one of them holds it for share: they come before this, or find it held.
    let revisions = formulas.iter().map(|(revision, _)| revision.0);
    lock(tx, Locks::new().revisions(revisions, Mode::Exclusive)).await?;
    for (revision, _) in &formulas {
        let facts = formulary::facts(tx, *revision).await?;
        if facts.state != RevisionState::Approved {
            let detail = format!(
                "{:?} is {} now. Name its approved revision before you publish.",
                facts.title, facts.state
            );
            return Err(Error::state(state, detail));
        }
    }
    if versions::in_force(tx, row).await?.due_at <= tx.now() {
        let detail = "This assignment was due already. Enter a later time before you publish.";
        return Err(Error::state(state, detail));
    }
    Ok(())
}

/// Takes an assignment back with a reason. It holds no recipe from then on, and what students answered stays.
///
/// # Errors
/// As [`assignment_change`]; returns [`Error::Invalid`] without a reason.
pub async fn withdraw(
    store: &Store,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: AssignmentId,
    request: &WithdrawAssignment,
) -> Result<Versioned<Assignment>> {
    store
        .create(
            credentials,
            once,
            async |tx| {
                let row = held(tx, id, None).await?;
                check(row.state()?, AssignmentState::Withdrawn)?;
                let reason = request.reason.trim();
                if !(1..=2000).contains(&reason.chars().count()) {
                    return Err(Error::field("/reason", "Enter a reason of 1 to 2000 characters."));
                }
                diesel::update(assignment::table.find(id.0))
                    .set((
                        assignment::state.eq(AssignmentState::Withdrawn.as_str()),
                        assignment::version.eq(row.version + 1),
                        assignment::withdrawn_because.eq(reason),
                    ))
                    .execute(tx.conn())
                    .await?;
                tx.record(NewEvent::new("assignment", id.0, "withdrawn").keeps(&ASSIGNMENT, [id.0]));
                Ok(id.0)
            },
            async |tx, id| seen(tx, AssignmentId(id)).await,
        )
        .await
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_leads_back_from_withdrawn_and_nothing_is_published_twice() {
        for to in AssignmentState::ALL {
            assert!(check(AssignmentState::Withdrawn, *to).is_err());
            assert!(check(*to, AssignmentState::Draft).is_err());
        }
        assert!(check(AssignmentState::Published, AssignmentState::Published).is_err());
        assert!(check(AssignmentState::Draft, AssignmentState::Published).is_ok());
    }
}
