//! Appeals: a student disagrees with the mark that counts, once and within two weeks, and an instructor who did not give it
//! looks at the work again. The mark of before stays beside the one that an appeal gives.

use chrono::{DateTime, Duration, Utc};
use diesel::prelude::*;
use diesel::sql_types::{Array, BigInt, SmallInt, Text, Timestamptz, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use locks::lock;
use schema::{appeal, appeal_decision, work_mark};
use serde_json::json;
use store::{
    Credentials, Error, IdempotencyKey, NewEvent, Result, Store, Tx, known_as, page::PageRequest, word,
};
use uuid::Uuid;
use wire::ids::{AssignmentId, BatchId, MarkId, PersonId, WorkSubmissionId};
use wire::page::{Page, PageQuery};
use wire::problem::FieldError;
use wire::teaching::{
    Appeal, AppealDecision, AppealOutcome, Appeals, DecidedAppeal, MarkReason, NewAppeal, Rubric,
    WaitingAppeal,
};

use crate::handed::{self, Handed};
use crate::kept::{APPEAL, APPEAL_DECISION};
use crate::{claims, cohorts, local, marks, record, seat};

/// For how long after the mark that counts a student may appeal: common practice, no source.
const WITHIN: Duration = Duration::days(14);

/// Appeals against the mark that counts of the caller's own work.
///
/// # Errors
/// Returns [`Error::NotFound`] unless the caller may read the work, [`Error::Forbidden`] unless it is the caller's own,
/// [`Error::State`] before there is a mark, after two weeks and where an appeal was made, and [`Error::Invalid`] for criteria
/// that the rubric does not have.
pub async fn appeal_create(
    store: &Store,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: WorkSubmissionId,
    request: &NewAppeal,
) -> Result<Appeals> {
    store
        .create(
            credentials,
            once,
            async |tx| {
                let of = record::submission(tx, id).await?;
                if of.person != tx.person()?.id {
                    return Err(Error::Forbidden(
                        "Only the student who handed the work in may appeal against its mark.".into(),
                    ));
                }
                let handed = handed::found(tx, id).await?;
                lock(tx, handed.locks()).await?;
                make(tx, &handed, request).await?;
                Ok(id.0)
            },
            async |tx, _| shown(tx, id).await,
        )
        .await
}

async fn make(tx: &mut Tx<'_>, handed: &Handed, request: &NewAppeal) -> Result<()> {
    let (id, now) = (WorkSubmissionId(handed.id), tx.now());
    let criteria = criteria(&handed.rubric(tx).await?, &request.criteria).map_err(Error::Invalid)?;
    let Some((mark, at)) = last(tx, id).await? else {
        let detail = "This work has no mark yet. Appeal when it has one.";
        return Err(Error::state("not_marked", detail));
    };
    let made: Option<Uuid> =
        appeal::table.find(id.0).select(appeal::mark_id).first(tx.conn()).await.optional()?;
    if made.is_some() {
        let detail =
            "You appealed against the mark of this work already. Read what was decided, or wait for it.";
        return Err(Error::state("appealed", detail));
    }
    if now > at + WITHIN {
        let zone = cohorts::class(tx, handed.cohort()).await?.zone;
        let until = local::shown(at + WITHIN, zone).local;
        let detail =
            format!("An appeal was possible until {until}. Ask your instructor if you still disagree.");
        return Err(Error::state("appeal_over", detail));
    }
    diesel::insert_into(appeal::table)
        .values((
            appeal::handed_id.eq(id.0),
            appeal::mark_id.eq(mark),
            appeal::reason.eq(request.reason.as_str()),
            appeal::criteria.eq(criteria),
            appeal::at.eq(now),
        ))
        .execute(tx.conn())
        .await?;
    tx.record(event(handed, "appealed").keeps(&APPEAL, [id.0]));
    Ok(())
}

fn event(handed: &Handed, action: &'static str) -> NewEvent {
    NewEvent::new("assignment_work", handed.work, action).detail(json!({ "handed": handed.id }))
}

/// The criteria in order, each once; or every fault.
fn criteria(rubric: &Rubric, asked: &[u32]) -> Result<Vec<i16>, Vec<FieldError>> {
    let mut errors = Vec::new();
    let mut found = Vec::new();
    for (i, number) in asked.iter().enumerate() {
        let of = i16::try_from(*number).ok().filter(|number| {
            usize::try_from(*number).is_ok_and(|number| (1..=rubric.criteria.len()).contains(&number))
        });
        match of {
            Some(number) => found.push(number),
            None => {
                let cure =
                    format!("The rubric has the criteria 1 to {}. Choose among them.", rubric.criteria.len());
                errors.push(FieldError::new(format!("/criteria/{i}"), cure));
            }
        }
    }
    if asked.is_empty() {
        errors.push(FieldError::new("/criteria", "Name at least one criterion that the appeal is about."));
    }
    found.sort_unstable();
    found.dedup();
    if errors.is_empty() { Ok(found) } else { Err(errors) }
}

/// The mark that counts, and when it was given.
async fn last(tx: &mut Tx<'_>, id: WorkSubmissionId) -> Result<Option<(Uuid, DateTime<Utc>)>> {
    Ok(work_mark::table
        .filter(work_mark::handed_id.eq(id.0))
        .order(work_mark::number.desc())
        .select((work_mark::id, work_mark::at))
        .first(tx.conn())
        .await
        .optional()?)
}

/// Decides an appeal: the mark stands, or another one takes its place.
///
/// # Errors
/// Returns [`Error::NotFound`] unless the caller is an instructor or marker of the cohort and there is an appeal,
/// [`Error::Forbidden`] for markers, for whoever gave a mark of the work, and for declared relations, [`Error::State`] where
/// it was decided or the caller does not hold the work, and [`Error::Invalid`] for refused fields.
pub async fn appeal_decide(
    store: &Store,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: WorkSubmissionId,
    request: &AppealDecision,
) -> Result<Appeals> {
    store
        .create(
            credentials,
            once,
            async |tx| {
                let handed = handed::held_by_marker(tx, id).await?;
                seat::instructor(tx, handed.cohort()).await?;
                decide(tx, &handed, request).await?;
                Ok(id.0)
            },
            async |tx, _| shown(tx, id).await,
        )
        .await
}

async fn decide(tx: &mut Tx<'_>, handed: &Handed, request: &AppealDecision) -> Result<()> {
    let (id, me, now) = (WorkSubmissionId(handed.id), tx.person()?.id, tx.now());
    let found = found(tx, id).await?.ok_or(Error::NotFound("appeal"))?;
    if let Some(decided) = found.decided {
        let who = decided.decided_by_name.unwrap_or_else(|| "Another instructor".into());
        let detail = format!("{who} decided this appeal already. Read the marks of the work.");
        return Err(Error::state("decided", detail));
    }
    let own: i64 = work_mark::table
        .filter(work_mark::handed_id.eq(id.0))
        .filter(work_mark::marker_id.eq(me.0))
        .count()
        .get_result(tx.conn())
        .await?;
    if own > 0 {
        return Err(Error::Forbidden(
            "You gave a mark of this work, so you may not decide the appeal. Ask another instructor.".into(),
        ));
    }
    claims::require(tx, handed).await?;
    let mark = match request.outcome {
        AppealOutcome::Stands if request.criteria.is_empty() => None,
        AppealOutcome::Stands => {
            let cure =
                "The mark stands, so no criterion gets another level. Omit the field, or uphold the appeal.";
            return Err(Error::field("/criteria", cure));
        }
        AppealOutcome::Upheld => {
            Some(marks::change_held(tx, handed, (MarkReason::Appeal, &request.criteria)).await?)
        }
    };
    diesel::insert_into(appeal_decision::table)
        .values((
            appeal_decision::handed_id.eq(id.0),
            appeal_decision::decided_by.eq(me.0),
            appeal_decision::mark_id.eq(mark),
            appeal_decision::at.eq(now),
        ))
        .execute(tx.conn())
        .await?;
    claims::end(tx, handed).await?;
    tx.record(event(handed, "appeal_decided").keeps(&APPEAL_DECISION, [id.0]));
    Ok(())
}

async fn found(tx: &mut Tx<'_>, id: WorkSubmissionId) -> Result<Option<Appeal>> {
    let made: Option<(Uuid, String, Vec<i16>, DateTime<Utc>)> = appeal::table
        .find(id.0)
        .select((appeal::mark_id, appeal::reason, appeal::criteria, appeal::at))
        .first(tx.conn())
        .await
        .optional()?;
    let Some((mark, reason, criteria, at)) = made else { return Ok(None) };
    let decided: Option<(Uuid, Option<Uuid>, DateTime<Utc>)> = appeal_decision::table
        .find(id.0)
        .select((appeal_decision::decided_by, appeal_decision::mark_id, appeal_decision::at))
        .first(tx.conn())
        .await
        .optional()?;
    let names = known_as::people(tx, decided.iter().map(|row| row.0).collect::<Vec<_>>()).await?;
    Ok(Some(Appeal {
        submission: id,
        mark: MarkId(mark),
        reason: word(&reason)?,
        criteria: criteria.into_iter().map(|number| number.unsigned_abs().into()).collect(),
        at,
        decided: decided.map(|(by, mark, at)| DecidedAppeal {
            outcome: if mark.is_some() { AppealOutcome::Upheld } else { AppealOutcome::Stands },
            decided_by: PersonId(by),
            decided_by_name: names.of(by),
            at,
            mark: mark.map(MarkId),
        }),
    }))
}

/// The appeal on work that was handed in, for its author and the instructors and markers of the cohort.
///
/// # Errors
/// Returns [`Error::NotFound`] for everybody else.
pub async fn appeals(store: &Store, credentials: &Credentials, id: WorkSubmissionId) -> Result<Appeals> {
    store.read(credentials, async |tx| shown(tx, id).await).await
}

async fn shown(tx: &mut Tx<'_>, id: WorkSubmissionId) -> Result<Appeals> {
    let of = record::submission(tx, id).await?;
    let (cohort, _) = seat::of_assignment(tx, of.assignment).await?;
    let zone = cohorts::class(tx, cohort).await?.zone;
    let last = last(tx, id).await?;
    let until = last.map(|(_, at)| local::shown(at + WITHIN, zone));
    Ok(Appeals { submission: id, until, appeal: found(tx, id).await? })
}

#[derive(QueryableByName)]
struct Row {
    #[diesel(sql_type = SqlUuid)]
    handed: Uuid,
    #[diesel(sql_type = SqlUuid)]
    batch: Uuid,
    #[diesel(sql_type = Text)]
    batch_number: String,
    #[diesel(sql_type = SqlUuid)]
    assignment: Uuid,
    #[diesel(sql_type = Text)]
    title: String,
    #[diesel(sql_type = Text)]
    name: String,
    #[diesel(sql_type = Text)]
    reason: String,
    #[diesel(sql_type = Array<SmallInt>)]
    criteria: Vec<i16>,
    #[diesel(sql_type = Timestamptz)]
    at: DateTime<Utc>,
}

/// The appeals that the caller may decide, the oldest first: of cohorts in which the caller is an instructor, on work of which
/// the caller gave no mark, and of no declared relation. One statement.
///
/// # Errors
/// Returns [`Error::Forbidden`] unless the caller is an instructor, and [`Error::Invalid`] for a refused cursor.
pub async fn appeals_waiting(
    store: &Store,
    credentials: &Credentials,
    query: &PageQuery,
) -> Result<Page<WaitingAppeal>> {
    let slice = PageRequest::<(DateTime<Utc>, Uuid)>::parse(query.limit, query.after.as_deref())?;
    store
        .read(credentials, async |tx| {
            let me = tx.instructor()?.id();
            let (after, id) = slice.after.unwrap_or((DateTime::UNIX_EPOCH, Uuid::nil()));
            let rows: Vec<Row> = diesel::sql_query(
                "SELECT h.id AS handed, h.batch_id AS batch, b.number AS batch_number, a.id AS assignment, v.title,
                     p.name, q.reason, q.criteria, q.at
                 FROM cohort_member m JOIN assignment a ON a.cohort_id = m.cohort_id
                 JOIN assignment_work w ON w.assignment_id = a.id JOIN handed_work h ON h.work_id = w.id
                 JOIN appeal q ON q.handed_id = h.id
                 JOIN assignment_version v ON v.assignment_id = h.assignment_id AND v.number = h.version_number
                 JOIN person p ON p.id = w.person_id JOIN batch b ON b.id = h.batch_id
                 WHERE m.person_id = $1 AND m.role = 'instructor' AND (q.at, h.id) > ($2, $3)
                   AND NOT EXISTS (SELECT FROM appeal_decision d WHERE d.handed_id = h.id)
                   AND NOT EXISTS (SELECT FROM work_mark k WHERE k.handed_id = h.id AND k.marker_id = $1)
                   AND NOT blind_work(w.id, $1)
                   AND w.person_id <> ALL (ARRAY(SELECT r.student_id FROM declared_relation r WHERE r.staff_id = $1))
                 ORDER BY q.at, h.id LIMIT $4",
            )
            .bind::<SqlUuid, _>(me.0)
            .bind::<Timestamptz, _>(after)
            .bind::<SqlUuid, _>(id)
            .bind::<BigInt, _>(slice.fetch())
            .load(tx.conn())
            .await?;
            let page = slice.page(rows, |row| (row.at, row.handed))?;
            let shown = |row: Row| {
                Ok(WaitingAppeal {
                    submission: WorkSubmissionId(row.handed),
                    batch: BatchId(row.batch),
                    batch_number: row.batch_number,
                    assignment: AssignmentId(row.assignment),
                    title: row.title,
                    name: row.name,
                    reason: word(&row.reason)?,
                    criteria: row.criteria.iter().map(|number| number.unsigned_abs().into()).collect(),
                    at: row.at,
                })
            };
            Ok(Page { items: page.items.into_iter().map(shown).collect::<Result<_>>()?, next: page.next })
        })
        .await
}
