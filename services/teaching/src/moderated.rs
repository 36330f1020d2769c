//! Moderation as it is read: what waits for a second marker, without a name; and both marks beside each other, for those who
//! may read them.

use std::collections::HashMap;

use chrono::{DateTime, Utc};
use diesel::prelude::*;
use diesel::sql_types::{BigInt, Text, Timestamptz, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use recipes::RecipeCache;
use release::Released;
use schema::{moderation_share, second_mark_criterion};
use store::{Credentials, Result, Store, Tx, known_as, page::PageRequest, word};
use uuid::Uuid;
use wire::ids::{AssignmentId, BatchId, CohortId, MarkId, ModerationId, PersonId, WorkSubmissionId};
use wire::page::{Page, PageQuery};
use wire::teaching::{
    BlindWork, CohortRole, DrawnMark, MarkedCriterion, Moderation, ModerationShare, ModerationState,
    SecondMark, Settlement, WaitingModeration,
};

use crate::pair::{self, DIFFERENCES, Difference, PAIR, Pair};
use crate::{marks, proposals, record, seat};

/// The share of a cohort that holds now, for its instructors and markers.
///
/// # Errors
/// Returns [`store::Error::NotFound`] unless the caller is a member, and [`store::Error::Forbidden`] for students.
pub(crate) async fn share(tx: &mut Tx<'_>, cohort: CohortId) -> Result<ModerationShare> {
    seat::assessor(tx, cohort).await?;
    let last: Option<(i16, Uuid, DateTime<Utc>)> = moderation_share::table
        .filter(moderation_share::cohort_id.eq(cohort.0))
        .order(moderation_share::number.desc())
        .select((moderation_share::percent, moderation_share::set_by, moderation_share::at))
        .first(tx.conn())
        .await
        .optional()?;
    let names = known_as::people(tx, last.iter().map(|row| row.1).collect::<Vec<_>>()).await?;
    Ok(ModerationShare {
        cohort,
        percent: last.map_or(0, |row| row.0.unsigned_abs().into()),
        set_by: last.map(|row| PersonId(row.1)),
        set_by_name: last.and_then(|row| names.of(row.1)),
        set_at: last.map(|row| row.2),
    })
}

/// Both marks of a moderation beside each other, for the instructors and markers of the cohort.
///
/// # Errors
/// Returns [`store::Error::NotFound`] for everybody else, and [`store::Error::State`] for whoever must give their second mark
/// first.
pub async fn moderation(store: &Store, credentials: &Credentials, id: ModerationId) -> Result<Moderation> {
    store.read(credentials, async |tx| compared(tx, id).await).await
}

/// As [`moderation`], in a transaction.
pub(crate) async fn compared(tx: &mut Tx<'_>, id: ModerationId) -> Result<Moderation> {
    let pair = pair::pair(tx, id).await?;
    let role = pair.for_staff(tx).await?;
    shown(tx, pair, role).await
}

/// A moderation as its second marker is answered who has just given the mark: with the first mark beside it, or alone while
/// they have others to give in the assignment, which the first could guide.
///
/// # Errors
/// Returns [`store::Error::NotFound`] for everybody but its second marker.
pub(crate) async fn given(tx: &mut Tx<'_>, id: ModerationId) -> Result<Moderation> {
    let pair = pair::pair(tx, id).await?;
    pair.for_second(tx).await?;
    let role = seat::member(tx, CohortId(pair.cohort)).await?;
    shown(tx, pair, role).await
}

async fn shown(tx: &mut Tx<'_>, pair: Pair, role: CohortRole) -> Result<Moderation> {
    let me = tx.person()?.id;
    let assignment = AssignmentId(pair.assignment);
    let rubric = record::rubric(tx, assignment, pair.version_number).await?;
    let told = !pair.is_blind();
    let first = if told { Some(marks::one(tx, pair.mark).await?) } else { None };
    let differ = if told { pair::differences(tx, pair.id()).await? } else { Vec::new() };
    let people = [pair.person].into_iter().chain(pair.second).chain(pair.settled_by);
    let names = known_as::people(tx, people.collect::<Vec<_>>()).await?;
    let second = match (pair.second, pair.second_at) {
        (Some(marker), Some(at)) => {
            let criteria = second_criteria(tx, pair.id).await?;
            Some(SecondMark {
                marker: PersonId(marker),
                marker_name: names.of(marker),
                at,
                points: criteria.iter().filter_map(|one| one.points).sum(),
                criteria,
            })
        }
        _ => None,
    };
    let settlement = match (&pair.outcome, pair.settled_by, pair.settled_at) {
        (Some(outcome), Some(by), Some(at)) if told => Some(Settlement {
            outcome: word(outcome)?,
            settled_by: PersonId(by),
            settled_by_name: names.of(by),
            at,
            mark: pair.settled_mark.map(MarkId),
        }),
        _ => None,
    };
    let state = match (&second, &settlement) {
        (None, _) => ModerationState::Waiting,
        (Some(_), _) if !told => ModerationState::Given,
        (Some(_), None) => ModerationState::Differs,
        (Some(_), Some(_)) => ModerationState::Settled,
    };
    let can_settle = match state {
        ModerationState::Differs => {
            let levels = differ.iter().any(|one| one.levels().is_some());
            pair.outcomes(me, role, levels)
        }
        _ => Vec::new(),
    };
    Ok(Moderation {
        id: pair.id(),
        code: pair.code(),
        state,
        submission: WorkSubmissionId(pair.handed),
        batch: BatchId(pair.batch),
        assignment,
        title: pair.title,
        cohort: CohortId(pair.cohort),
        person: PersonId(pair.person),
        name: names.of(pair.person),
        percent: pair.percent.unsigned_abs().into(),
        drawn_at: pair.drawn_at,
        second_marker: pair.second.map(PersonId),
        second_marker_name: pair.second.and_then(|second| names.of(second)),
        rubric,
        first,
        second,
        differences: differ.iter().map(Difference::criterion).collect(),
        settlement,
        can_settle,
    })
}

type SecondRow = (i16, Option<i16>, Option<i32>, Option<bool>);

async fn second_criteria(tx: &mut Tx<'_>, id: Uuid) -> Result<Vec<MarkedCriterion>> {
    let rows: Vec<SecondRow> = second_mark_criterion::table
        .filter(second_mark_criterion::moderation_id.eq(id))
        .order(second_mark_criterion::position)
        .select((
            second_mark_criterion::position,
            second_mark_criterion::level,
            second_mark_criterion::points,
            second_mark_criterion::met,
        ))
        .load(tx.conn())
        .await?;
    let shown = |(position, level, points, met): SecondRow| MarkedCriterion {
        criterion: position.unsigned_abs().into(),
        level: level.map(|level| level.unsigned_abs().into()),
        points: points.map(i32::unsigned_abs),
        met,
        comment: None,
    };
    Ok(rows.into_iter().map(shown).collect())
}

/// The marks of a cohort that were drawn, the newest first, for its instructors and markers. Those that are closed to the
/// caller as a second marker are left out.
///
/// # Errors
/// Returns [`store::Error::NotFound`] unless the caller is a member, [`store::Error::Forbidden`] for students, and [`store::Error::Invalid`] for a
/// refused cursor.
pub async fn moderations(
    store: &Store,
    credentials: &Credentials,
    cohort: CohortId,
    query: &PageQuery,
) -> Result<Page<DrawnMark>> {
    let slice = PageRequest::<Uuid>::parse(query.limit, query.after.as_deref())?;
    store
        .read(credentials, async |tx| {
            seat::assessor(tx, cohort).await?;
            let me = tx.person()?.id;
            let rows: Vec<Pair> = diesel::sql_query(format!(
                "{PAIR} WHERE a.cohort_id = $2 AND m.id < $3 AND NOT blind_work(w.id, $1) ORDER BY m.id DESC LIMIT $4"
            ))
            .bind::<SqlUuid, _>(me.0)
            .bind::<SqlUuid, _>(cohort.0)
            .bind::<SqlUuid, _>(slice.after.unwrap_or(Uuid::max()))
            .bind::<BigInt, _>(slice.fetch())
            .load(tx.conn())
            .await?;
            let page = slice.page(rows, |row| row.id)?;
            let ids: Vec<Uuid> = page.items.iter().map(|row| row.id).collect();
            let differ: Vec<Difference> = diesel::sql_query(DIFFERENCES)
                .bind::<diesel::sql_types::Array<SqlUuid>, _>(ids)
                .load(tx.conn())
                .await?;
            let mut differ_by: HashMap<Uuid, u32> = HashMap::new();
            for one in differ {
                *differ_by.entry(one.id).or_default() += 1;
            }
            let people = page.items.iter().flat_map(|row| [Some(row.person), Some(row.first), row.second]);
            let names = known_as::people(tx, people.flatten().collect::<Vec<_>>()).await?;
            let shown = |row: Pair| {
                Ok(DrawnMark {
                    id: row.id(),
                    code: row.code(),
                    state: match (row.has_second(), row.is_settled()) {
                        (false, _) => ModerationState::Waiting,
                        (true, false) => ModerationState::Differs,
                        (true, true) => ModerationState::Settled,
                    },
                    outcome: row.outcome.as_deref().map(word).transpose()?,
                    assignment: AssignmentId(row.assignment),
                    title: row.title,
                    person: PersonId(row.person),
                    name: names.of(row.person),
                    first_marker: PersonId(row.first),
                    first_marker_name: names.of(row.first),
                    second_marker: row.second.map(PersonId),
                    second_marker_name: row.second.and_then(|second| names.of(second)),
                    drawn_at: row.drawn_at,
                    differences: differ_by.get(&row.id).copied().unwrap_or_default(),
                })
            };
            Ok(Page { items: page.items.into_iter().map(shown).collect::<Result<_>>()?, next: page.next })
        })
        .await
}

#[derive(QueryableByName)]
struct Waiting {
    #[diesel(sql_type = SqlUuid)]
    id: Uuid,
    #[diesel(sql_type = SqlUuid)]
    assignment: Uuid,
    #[diesel(sql_type = Text)]
    title: String,
    #[diesel(sql_type = SqlUuid)]
    cohort: Uuid,
    #[diesel(sql_type = Text)]
    cohort_name: String,
    #[diesel(sql_type = Timestamptz)]
    drawn_at: DateTime<Utc>,
}

/// The second marks that the caller has to give, the oldest first, of cohorts in which the caller marks. One statement.
///
/// # Errors
/// Returns [`store::Error::Forbidden`] unless the caller is an instructor, and [`store::Error::Invalid`] for a refused cursor.
pub async fn moderations_waiting(
    store: &Store,
    credentials: &Credentials,
    query: &PageQuery,
) -> Result<Page<WaitingModeration>> {
    let slice = PageRequest::<Uuid>::parse(query.limit, query.after.as_deref())?;
    store
        .read(credentials, async |tx| {
            let me = tx.instructor()?.id();
            let rows: Vec<Waiting> = diesel::sql_query(
                "SELECT m.id, m.assignment_id AS assignment, v.title, c.id AS cohort, c.name AS cohort_name, m.drawn_at
                 FROM moderation m JOIN handed_work h ON h.id = m.handed_id
                 JOIN assignment_version v ON v.assignment_id = h.assignment_id AND v.number = h.version_number
                 JOIN assignment a ON a.id = m.assignment_id JOIN cohort c ON c.id = a.cohort_id
                 JOIN cohort_member o ON o.cohort_id = c.id AND o.person_id = $1 AND o.role IN ('instructor', 'marker')
                 WHERE m.second_id = $1 AND m.second_at IS NULL AND m.id > $2 ORDER BY m.id LIMIT $3",
            )
            .bind::<SqlUuid, _>(me.0)
            .bind::<SqlUuid, _>(slice.after.unwrap_or(Uuid::nil()))
            .bind::<BigInt, _>(slice.fetch())
            .load(tx.conn())
            .await?;
            let page = slice.page(rows, |row| row.id)?;
            let shown = |row: Waiting| WaitingModeration {
                id: ModerationId(row.id),
                code: pair::code(row.id),
                assignment: AssignmentId(row.assignment),
                title: row.title,
                cohort: CohortId(row.cohort),
                cohort_name: row.cohort_name,
                drawn_at: row.drawn_at,
            };
            Ok(Page { items: page.items.into_iter().map(shown).collect(), next: page.next })
        })
        .await
}

/// Work as its second marker sees it: nobody is named, and nothing tells the first mark.
///
/// # Errors
/// Returns [`store::Error::NotFound`] unless the caller is its second marker, [`store::Error::State`] after the second mark, and
/// [`store::Error::GateClosed`] until the cautions of its recipe are acknowledged.
pub async fn blind_work(
    store: &Store,
    cache: &RecipeCache,
    credentials: &Credentials,
    id: ModerationId,
) -> Result<Released<BlindWork>> {
    store
        .read(credentials, async |tx| {
            let pair = pair::pair(tx, id).await?;
            pair.for_second(tx).await?;
            if pair.has_second() {
                return Err(pair::second_given());
            }
            let rubric = record::rubric(tx, AssignmentId(pair.assignment), pair.version_number).await?;
            let of = (BatchId(pair.batch), pair.submission_number);
            bench::submitted_blind(tx, cache, of, |mut record| {
                record.summary.number = pair.code();
                let proposals = proposals::proposals(&rubric, &record.findings);
                BlindWork { id, code: pair.code(), rubric, proposals, record }
            })
            .await
        })
        .await
}
