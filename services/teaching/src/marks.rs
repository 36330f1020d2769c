//! Marks: written once. A changed mark is another one with its reason, and both stay.

use std::collections::HashMap;

use chrono::{DateTime, Utc};
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use schema::{work_mark, work_mark_criterion};
use serde_json::json;
use store::known_as::{self, Names};
use store::{Credentials, Error, IdempotencyKey, NewEvent, Result, Store, Tx, word};
use uuid::Uuid;
use wire::bench::Verdict;
use wire::ids::{MarkId, PersonId, ReviewId, WorkSubmissionId};
use wire::mark::NewMark;
use wire::problem::FieldError;
use wire::teaching::{CriterionLevel, MarkChange, MarkReason, MarkedCriterion, Rubric, WorkMark, WorkMarks};

use crate::decide::{self, Decided};
use crate::handed::{self, Handed};
use crate::kept::MARK;
use crate::{claims, record};

/// What is decided with a verdict, checked: nothing where the verdict gives no mark.
///
/// # Errors
/// Returns [`Error::Invalid`] for a mark where there is none to give, one that is missing, and each of its faults.
pub(crate) fn with_verdict(
    rubric: &Rubric,
    verdict: Verdict,
    mark: Option<&NewMark>,
) -> Result<Option<Vec<Decided>>> {
    let refuse = |cure: &str| Err(Error::field("/mark", cure));
    let marked = !rubric.criteria.is_empty();
    let Some(mark) = mark else {
        return match verdict {
            Verdict::Accept if marked => {
                refuse("Accepting this work needs a mark. Decide every criterion of its rubric.")
            }
            _ => Ok(None),
        };
    };
    if !marked {
        return refuse("This work is practice and gets no mark. Omit the field.");
    }
    if verdict == Verdict::Return {
        return refuse("Work that is returned gets no mark. Omit the field, or accept or reject the work.");
    }
    let decided = decide::decided(rubric, mark, "/mark").map_err(Error::Invalid)?;
    if verdict == Verdict::Accept {
        let cure = "Work that does not meet this criterion cannot be accepted. Return it or reject it.";
        let unmet = mark.criteria.iter().enumerate().filter(|(_, one)| one.met == Some(false));
        let errors: Vec<FieldError> =
            unmet.map(|(i, _)| FieldError::new(format!("/mark/criteria/{i}/met"), cure)).collect();
        if !errors.is_empty() {
            return Err(Error::Invalid(errors));
        }
    }
    Ok(Some(decided))
}

/// A comment of a review, by its place in it.
type At = (Uuid, i16);

/// Writes the mark of a verdict, and answers it. `before` is how many other comments the review has; those of the criteria follow them.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn put_with_review(
    tx: &mut Tx<'_>,
    handed: &Handed,
    (review, before): (ReviewId, usize),
    decided: &[Decided],
) -> Result<Uuid> {
    let mut next = i16::try_from(before).map_err(|error| Error::Internal(error.into()))?;
    let rows = decided.iter().map(|one| {
        let comment = one.comment.as_ref().map(|_| {
            next += 1;
            (review.0, next)
        });
        (one, comment)
    });
    let rows: Vec<(&Decided, Option<At>)> = rows.collect();
    insert(tx, handed, (1, None), &rows).await
}

async fn insert(
    tx: &mut Tx<'_>,
    handed: &Handed,
    (number, reason): (i32, Option<MarkReason>),
    decided: &[(&Decided, Option<At>)],
) -> Result<Uuid> {
    let (mark, me, now) = (tx.new_id(), tx.person()?.id, tx.now());
    diesel::insert_into(work_mark::table)
        .values((
            work_mark::id.eq(mark),
            work_mark::handed_id.eq(handed.id),
            work_mark::number.eq(number),
            work_mark::marker_id.eq(me.0),
            work_mark::reason.eq(reason.map(MarkReason::as_str)),
            work_mark::at.eq(now),
        ))
        .execute(tx.conn())
        .await?;
    let rows = decided.iter().map(|(one, comment)| {
        (
            work_mark_criterion::mark_id.eq(mark),
            work_mark_criterion::position.eq(one.position),
            work_mark_criterion::level.eq(one.level.map(|level| level.0)),
            work_mark_criterion::points.eq(one.level.map(|level| level.1)),
            work_mark_criterion::met.eq(one.met),
            work_mark_criterion::review_id.eq(comment.map(|at| at.0)),
            work_mark_criterion::comment_position.eq(comment.map(|at| at.1)),
        )
    });
    let rows: Vec<_> = rows.collect();
    diesel::insert_into(work_mark_criterion::table).values(rows).execute(tx.conn()).await?;
    tx.record(
        NewEvent::new("assignment_work", handed.work, "marked")
            .detail(json!({ "handed": handed.id, "mark": mark, "number": number }))
            .keeps(&MARK, [mark]),
    );
    Ok(mark)
}

/// Changes the mark of work that was accepted or rejected: another mark takes its place.
///
/// # Errors
/// As a claim; returns [`Error::State`] unless the caller holds the work, or if it has no mark yet, and [`Error::Invalid`]
/// for refused fields.
pub async fn mark_change(
    store: &Store,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: WorkSubmissionId,
    request: &MarkChange,
) -> Result<WorkMarks> {
    store
        .create(
            credentials,
            once,
            async |tx| {
                let handed = handed::held_by_marker(tx, id).await?;
                claims::require(tx, &handed).await?;
                change_held(tx, &handed, (request.reason, &request.criteria)).await?;
                if request.reason == MarkReason::Appeal {
                    let cure = "A mark changes for an appeal where the appeal is decided. Decide it there, or choose another reason.";
                    return Err(Error::field("/reason", cure));
                }
                claims::end(tx, &handed).await?;
                Ok(id.0)
            },
            async |tx, _| shown(tx, id).await,
        )
        .await
}

/// Gives another mark to work that the caller holds and has claimed. Answers it.
///
/// # Errors
/// Returns [`Error::State`] if the work has no mark yet, and [`Error::Invalid`] for refused levels.
pub(crate) async fn change_held(
    tx: &mut Tx<'_>,
    handed: &Handed,
    (reason, levels): (MarkReason, &[CriterionLevel]),
) -> Result<Uuid> {
    let (number, before) = last(tx, handed.id).await?;
    let rubric = handed.rubric(tx).await?;
    let decided: Vec<Decided> = before.iter().map(|(one, _)| one.clone()).collect();
    let now = decide::changed(&rubric, &decided, levels).map_err(Error::Invalid)?;
    let rows: Vec<(&Decided, Option<At>)> =
        now.iter().zip(before.iter().map(|(_, comment)| *comment)).collect();
    insert(tx, handed, (number + 1, Some(reason)), &rows).await
}

/// Those of some levels that the mark that counts does not have.
///
/// # Errors
/// Returns [`Error::State`] if the work has no mark yet.
pub(crate) async fn other_than_now(
    tx: &mut Tx<'_>,
    handed: &Handed,
    levels: &[CriterionLevel],
) -> Result<Vec<CriterionLevel>> {
    let (_, now) = last(tx, handed.id).await?;
    let has = |level: &CriterionLevel| {
        let of = |one: &Decided| {
            u32::from(one.position.unsigned_abs()) == level.criterion
                && one.level.is_some_and(|now| u32::from(now.0.unsigned_abs()) == level.level)
        };
        now.iter().any(|(one, _)| of(one))
    };
    Ok(levels.iter().filter(|level| !has(level)).cloned().collect())
}

type MarkRow = (Uuid, i32, Uuid, Option<String>, DateTime<Utc>);

type CriterionRow = (Uuid, i16, Option<i16>, Option<i32>, Option<bool>, Option<Uuid>, Option<i16>);

async fn criteria(tx: &mut Tx<'_>, marks: &[Uuid]) -> Result<Vec<CriterionRow>> {
    let rows = work_mark_criterion::table
        .filter(work_mark_criterion::mark_id.eq_any(marks))
        .order((work_mark_criterion::mark_id, work_mark_criterion::position))
        .select((
            work_mark_criterion::mark_id,
            work_mark_criterion::position,
            work_mark_criterion::level,
            work_mark_criterion::points,
            work_mark_criterion::met,
            work_mark_criterion::review_id,
            work_mark_criterion::comment_position,
        ));
    Ok(rows.load(tx.conn()).await?)
}

/// What was decided on each criterion of some marks, by mark.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn criteria_of(
    tx: &mut Tx<'_>,
    marks: &[Uuid],
) -> Result<HashMap<Uuid, Vec<MarkedCriterion>>> {
    let mut of: HashMap<Uuid, Vec<MarkedCriterion>> = HashMap::new();
    for row in criteria(tx, marks).await? {
        of.entry(row.0).or_default().push(marked(&row));
    }
    Ok(of)
}

/// A mark with what was decided on each criterion.
///
/// # Errors
/// Returns [`Error::NotFound`] if there is none.
pub(crate) async fn one(tx: &mut Tx<'_>, id: Uuid) -> Result<WorkMark> {
    let row: Option<MarkRow> = work_mark::table
        .find(id)
        .select((work_mark::id, work_mark::number, work_mark::marker_id, work_mark::reason, work_mark::at))
        .first(tx.conn())
        .await
        .optional()?;
    let row = row.ok_or(Error::NotFound("mark"))?;
    let names = known_as::people(tx, [row.2]).await?;
    let criteria = criteria(tx, &[id]).await?;
    mark(row, &criteria, &names)
}

fn marked(row: &CriterionRow) -> MarkedCriterion {
    MarkedCriterion {
        criterion: row.1.unsigned_abs().into(),
        level: row.2.map(|level| level.unsigned_abs().into()),
        points: row.3.map(i32::unsigned_abs),
        met: row.4,
        comment: row.6.map(|place| place.unsigned_abs().into()),
    }
}

/// The mark that counts, with its number.
async fn last(tx: &mut Tx<'_>, handed: Uuid) -> Result<(i32, Vec<(Decided, Option<At>)>)> {
    let found: Option<(Uuid, i32)> = work_mark::table
        .filter(work_mark::handed_id.eq(handed))
        .order(work_mark::number.desc())
        .select((work_mark::id, work_mark::number))
        .first(tx.conn())
        .await
        .optional()?;
    let Some((mark, number)) = found else {
        let detail = "This work has no mark yet. It gets one with the verdict on its record.";
        return Err(Error::state("not_marked", detail));
    };
    let rows = criteria(tx, &[mark]).await?.into_iter();
    let turned = rows.map(|(_, position, level, points, met, review, place)| {
        (Decided { position, level: level.zip(points), met, comment: None }, review.zip(place))
    });
    Ok((number, turned.collect()))
}

/// The marks of work that was handed in, for its author and the instructors and markers of the cohort.
///
/// # Errors
/// Returns [`Error::NotFound`] for everybody else.
pub async fn marks(store: &Store, credentials: &Credentials, id: WorkSubmissionId) -> Result<WorkMarks> {
    store.read(credentials, async |tx| shown(tx, id).await).await
}

/// As [`marks`], in a transaction: six statements, however many marks there are.
async fn shown(tx: &mut Tx<'_>, id: WorkSubmissionId) -> Result<WorkMarks> {
    let of = record::submission(tx, id).await?;
    let rubric = record::rubric(tx, of.assignment, of.assignment_version).await?;
    let rows: Vec<MarkRow> = work_mark::table
        .filter(work_mark::handed_id.eq(id.0))
        .order(work_mark::number.desc())
        .select((work_mark::id, work_mark::number, work_mark::marker_id, work_mark::reason, work_mark::at))
        .load(tx.conn())
        .await?;
    let ids: Vec<Uuid> = rows.iter().map(|row| row.0).collect();
    let criteria = criteria(tx, &ids).await?;
    let names = known_as::people(tx, rows.iter().map(|row| row.2).collect::<Vec<_>>()).await?;
    let marks = rows.into_iter().map(|row| mark(row, &criteria, &names)).collect::<Result<_>>()?;
    Ok(WorkMarks { submission: id, batch: of.batch, late: of.late, rubric, marks })
}

fn mark(
    (id, number, marker, reason, at): MarkRow,
    criteria: &[CriterionRow],
    names: &Names,
) -> Result<WorkMark> {
    let own = criteria.iter().filter(|row| row.0 == id);
    let criteria: Vec<MarkedCriterion> = own.map(marked).collect();
    Ok(WorkMark {
        id: MarkId(id),
        number: number.unsigned_abs(),
        marker: PersonId(marker),
        marker_name: names.of(marker),
        at,
        reason: reason.as_deref().map(word).transpose()?,
        points: criteria.iter().filter_map(|one| one.points).sum(),
        criteria,
    })
}
