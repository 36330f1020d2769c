//! Moderation: a share of the first marks is drawn for a second marker, who gives another one blind.
//!
//! What is drawn follows from the assignment's secret and the work, so that no marker chooses it and everybody who has the
//! database can repeat it.

use diesel::prelude::*;
use diesel::sql_types::{Binary, SmallInt, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use locks::{Locks, Mode, lock};
use schema::{moderation, moderation_share, second_mark, second_mark_criterion};
use serde_json::json;
use store::{Credentials, Error, IdempotencyKey, NewEvent, Result, Store, Tx};
use uuid::Uuid;
use wire::ids::{CohortId, ModerationId, PersonId, WorkSubmissionId};
use wire::teaching::{
    Moderation, ModerationShare, NewModerationShare, NewSecondMark, NewSecondMarker, SettlementOutcome,
};

use crate::handed::{self, Handed};
use crate::kept::{MODERATION, MODERATION_SHARE, SECOND_MARK};
use crate::numbers::Draw;
use crate::pair::{self, Pair};
use crate::{decide, moderated, seat, settling};

/// Sets which share of a cohort's marks is drawn from now on.
///
/// # Errors
/// Returns [`Error::NotFound`] unless the caller is a member, [`Error::Forbidden`] for students and markers, and
/// [`Error::Invalid`] for a refused share.
pub async fn moderation_share_set(
    store: &Store,
    credentials: &Credentials,
    once: &IdempotencyKey,
    cohort: CohortId,
    request: &NewModerationShare,
) -> Result<ModerationShare> {
    store
        .create(
            credentials,
            once,
            async |tx| {
                lock(tx, Locks::new().cohort(cohort, Mode::Exclusive)).await?;
                seat::instructor(tx, cohort).await?;
                let percent = i16::try_from(request.percent).ok().filter(|percent| *percent <= 100);
                let percent =
                    percent.ok_or_else(|| Error::field("/percent", "Enter a whole number from 0 to 100."))?;
                let (me, now) = (tx.person()?.id, tx.now());
                let last: Option<i32> = moderation_share::table
                    .filter(moderation_share::cohort_id.eq(cohort.0))
                    .select(diesel::dsl::max(moderation_share::number))
                    .first(tx.conn())
                    .await?;
                let number = last.unwrap_or_default() + 1;
                diesel::insert_into(moderation_share::table)
                    .values((
                        moderation_share::cohort_id.eq(cohort.0),
                        moderation_share::number.eq(number),
                        moderation_share::percent.eq(percent),
                        moderation_share::set_by.eq(me.0),
                        moderation_share::at.eq(now),
                    ))
                    .execute(tx.conn())
                    .await?;
                tx.record(
                    NewEvent::new("cohort", cohort.0, "moderation_share_set")
                        .detail(json!({ "percent": percent }))
                        .keeps(&MODERATION_SHARE, [cohort.0.to_string(), number.to_string()]),
                );
                Ok(cohort.0)
            },
            async |tx, _| moderated::share(tx, cohort).await,
        )
        .await
}

#[derive(QueryableByName)]
struct Rule {
    #[diesel(sql_type = Binary)]
    secret: Vec<u8>,
    #[diesel(sql_type = SmallInt)]
    percent: i16,
}

/// Draws the first mark of work for a second marker, or leaves it: by the share that holds now. The caller holds the work.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn draw(tx: &mut Tx<'_>, handed: &Handed, mark: Uuid) -> Result<()> {
    let rule: Rule = diesel::sql_query(
        "SELECT a.secret, coalesce((SELECT s.percent FROM moderation_share s WHERE s.cohort_id = a.cohort_id
             ORDER BY s.number DESC LIMIT 1), 0::smallint) AS percent
         FROM assignment a WHERE a.id = $1",
    )
    .bind::<SqlUuid, _>(handed.assignment().0)
    .get_result(tx.conn())
    .await?;
    if !is_drawn(&rule.secret, handed.id, rule.percent)? {
        return Ok(());
    }
    let second = second_of(tx, handed, None).await?;
    let (id, now) = (tx.new_id(), tx.now());
    diesel::insert_into(moderation::table)
        .values((
            moderation::id.eq(id),
            moderation::handed_id.eq(handed.id),
            moderation::assignment_id.eq(handed.assignment().0),
            moderation::mark_id.eq(mark),
            moderation::percent.eq(rule.percent),
            moderation::second_id.eq(second),
            moderation::drawn_at.eq(now),
        ))
        .execute(tx.conn())
        .await?;
    tx.record(pair::event(handed, id, "moderation_drawn").keeps(&MODERATION, [id]));
    Ok(())
}

/// Whether work is among so many of a hundred. HMAC-SHA-256 of the submission's id under the assignment's secret says so.
fn is_drawn(secret: &[u8], handed: Uuid, percent: i16) -> Result<bool> {
    Ok(Draw::new(secret, handed, 0, 0)?.below(100) < u64::from(percent.unsigned_abs()))
}

#[derive(QueryableByName)]
struct Somebody {
    #[diesel(sql_type = SqlUuid)]
    id: Uuid,
}

/// Who gives the second mark: of the cohort's instructors and markers who may read the record, are not related to the student,
/// and never acted on this work, the one with the fewest second marks to give; of several the one whose digest with the work
/// is the lowest. With `asked`, that person, who may have acted on it and gave no mark of it.
async fn second_of(tx: &mut Tx<'_>, handed: &Handed, asked: Option<PersonId>) -> Result<Option<Uuid>> {
    let me = tx.person()?.id;
    let who = match asked {
        Some(_) => "m.person_id = $5",
        None => {
            "m.person_id <> $5 AND NOT EXISTS (SELECT FROM event e WHERE e.actor_id = m.person_id
                 AND (e.subject_kind = 'assignment_work' AND e.subject_id = $4
                      OR e.subject_kind = 'batch' AND e.subject_id = b.id))"
        }
    };
    let sql = format!(
        "SELECT m.person_id AS id
         FROM cohort_member m JOIN person p ON p.id = m.person_id AND p.role = 'instructor' AND p.state = 'active'
         JOIN batch b ON b.id = $2 JOIN revision r ON r.id = b.revision_id JOIN formula f ON f.id = r.formula_id
         JOIN library_member l ON l.library_id = f.library_id AND l.holder_id = m.person_id
         WHERE m.cohort_id = $1 AND m.role IN ('instructor', 'marker') AND m.person_id <> $3 AND {who}
           AND NOT EXISTS (SELECT FROM declared_relation d WHERE d.staff_id = m.person_id AND d.student_id = $3)
           AND NOT EXISTS (SELECT FROM handed_work h JOIN work_mark k ON k.handed_id = h.id
               WHERE h.work_id = $4 AND k.marker_id = m.person_id)
         ORDER BY (SELECT count(*) FROM moderation o WHERE o.second_id = m.person_id AND o.second_at IS NULL),
             sha256(uuid_send($4) || uuid_send(m.person_id)) LIMIT 1"
    );
    let found: Option<Somebody> = diesel::sql_query(sql)
        .bind::<SqlUuid, _>(handed.cohort().0)
        .bind::<SqlUuid, _>(handed.batch().0)
        .bind::<SqlUuid, _>(handed.student().0)
        .bind::<SqlUuid, _>(handed.work)
        .bind::<SqlUuid, _>(asked.unwrap_or(me).0)
        .get_result(tx.conn())
        .await
        .optional()?;
    Ok(found.map(|one| one.id))
}

/// Names another second marker while the second mark is missing.
///
/// # Errors
/// As [`moderation`](crate::moderation()); returns [`Error::Forbidden`] for markers, [`Error::State`] after the second mark, and
/// [`Error::Invalid`] for somebody who cannot give it.
pub async fn second_marker_name(
    store: &Store,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: ModerationId,
    request: &NewSecondMarker,
) -> Result<Moderation> {
    store
        .create(
            credentials,
            once,
            async |tx| {
                let (pair, handed) = pair::held(tx, id).await?;
                seat::instructor(tx, handed.cohort()).await?;
                if pair.has_second() {
                    return Err(pair::second_given());
                }
                if request.person == tx.person()?.id {
                    let cure = "You can read the first mark, so your own would not be blind. Name another instructor or marker.";
                    return Err(Error::field("/person", cure));
                }
                let person = second_of(tx, &handed, Some(request.person)).await?.ok_or_else(|| {
                    let cure = "This person cannot give the second mark. Choose an instructor or marker of the cohort who may read the record, gave no mark of the work, and declared no relation.";
                    Error::field("/person", cure)
                })?;
                diesel::update(moderation::table.find(id.0))
                    .set(moderation::second_id.eq(person))
                    .execute(tx.conn())
                    .await?;
                tx.record(pair::event(&handed, id.0, "second_marker_named").keeps(&MODERATION, [id.0]));
                Ok(id.0)
            },
            async |tx, _| moderated::compared(tx, id).await,
        )
        .await
}

/// Gives the second mark. Marks that are alike are settled by that.
///
/// # Errors
/// Returns [`Error::NotFound`] unless the caller is its second marker, [`Error::Forbidden`] for a declared relation,
/// [`Error::State`] where it was given, and [`Error::Invalid`] for each fault of the mark.
pub async fn second_mark_create(
    store: &Store,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: ModerationId,
    request: &NewSecondMark,
) -> Result<Moderation> {
    store
        .create(
            credentials,
            once,
            async |tx| {
                let before = pair::pair(tx, id).await?;
                before.for_second(tx).await?;
                let handed = handed::found(tx, WorkSubmissionId(before.handed)).await?;
                lock(tx, handed.locks()).await?;
                let pair = pair::pair(tx, id).await?;
                pair.for_second(tx).await?;
                if pair.has_second() {
                    return Err(pair::second_given());
                }
                handed::may_mark(tx, &handed).await?;
                give(tx, &handed, &pair, request).await?;
                Ok(id.0)
            },
            async |tx, _| moderated::given(tx, id).await,
        )
        .await
}

async fn give(tx: &mut Tx<'_>, handed: &Handed, pair: &Pair, request: &NewSecondMark) -> Result<()> {
    let rubric = handed.rubric(tx).await?;
    let decided = decide::second(&rubric, &request.criteria).map_err(Error::Invalid)?;
    let (id, me, now) = (pair.id(), tx.person()?.id, tx.now());
    diesel::insert_into(second_mark::table)
        .values((
            second_mark::moderation_id.eq(id.0),
            second_mark::marker_id.eq(me.0),
            second_mark::at.eq(now),
        ))
        .execute(tx.conn())
        .await?;
    let rows = decided.iter().map(|one| {
        (
            second_mark_criterion::moderation_id.eq(id.0),
            second_mark_criterion::position.eq(one.position),
            second_mark_criterion::level.eq(one.level.map(|level| level.0)),
            second_mark_criterion::points.eq(one.level.map(|level| level.1)),
            second_mark_criterion::met.eq(one.met),
        )
    });
    let rows: Vec<_> = rows.collect();
    diesel::insert_into(second_mark_criterion::table).values(rows).execute(tx.conn()).await?;
    let given = pair::event(handed, id.0, "second_marked");
    tx.record(given.keeps(&SECOND_MARK, [id.0]).keeps(&MODERATION, [id.0]));
    if pair::differences(tx, id).await?.is_empty() {
        settling::put(tx, handed, pair, (SettlementOutcome::Agreed, None)).await?;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn as_many_are_drawn_as_the_share_says_and_the_same_ones_again() {
        let secret = [7_u8; 32];
        let of = |percent: i16| {
            (0..2000_u128).filter(move |id| is_drawn(&secret, Uuid::from_u128(*id), percent).unwrap())
        };
        assert_eq!((of(0).count(), of(100).count()), (0, 2000));
        let drawn: Vec<u128> = of(20).collect();
        // Four standard deviations of so many draws are 72.
        assert!((328..=472).contains(&drawn.len()), "{}", drawn.len());
        assert_eq!(drawn, of(20).collect::<Vec<_>>());
        let more: Vec<u128> = of(30).collect();
        assert!(drawn.iter().all(|id| more.contains(id)), "a higher share draws what a lower one draws");
    }
}
