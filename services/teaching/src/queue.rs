//! The markers' queue: the work of a marker's cohorts that waits, with the one thing that stands out of each.
//!
//! What it is ordered by stands in `work_waiting`, which triggers keep. Each cohort gives its first few by an index, so that
//! a page costs the same however much waits.

use chrono::{DateTime, Utc};
use diesel::prelude::*;
use diesel::sql_types::{Array, BigInt, Bool, Integer, Nullable, Text, Timestamptz, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use serde::{Deserialize, Serialize};
use store::{Credentials, Result, Store, Tx, page::PageRequest, word};
use uuid::Uuid;
use wire::bench::FindingKind;
use wire::ids::{AssignmentId, BatchId, CohortId, PersonId, WorkSubmissionId};
use wire::page::Page;
use wire::teaching::{QueueClaim, QueueOrder, QueueQuery, StandsOut, WaitingWork};

use crate::blind::NOBODY;
use crate::{local, seat};

#[derive(QueryableByName)]
struct Row {
    #[diesel(sql_type = SqlUuid)]
    id: Uuid,
    #[diesel(sql_type = Integer)]
    number: i32,
    #[diesel(sql_type = SqlUuid)]
    assignment: Uuid,
    #[diesel(sql_type = Text)]
    title: String,
    #[diesel(sql_type = SqlUuid)]
    cohort: Uuid,
    #[diesel(sql_type = Text)]
    cohort_name: String,
    #[diesel(sql_type = Text)]
    time_zone: String,
    #[diesel(sql_type = SqlUuid)]
    person: Uuid,
    #[diesel(sql_type = Text)]
    name: String,
    #[diesel(sql_type = SqlUuid)]
    batch: Uuid,
    #[diesel(sql_type = Text)]
    batch_number: String,
    /// Whether the caller is not told whose it is, and what is told instead.
    #[diesel(sql_type = Bool)]
    unnamed: bool,
    #[diesel(sql_type = Nullable<Text>)]
    candidate: Option<String>,
    /// Without what single students are allowed.
    #[diesel(sql_type = Timestamptz)]
    class_due_at: DateTime<Utc>,
    #[diesel(sql_type = Timestamptz)]
    received_at: DateTime<Utc>,
    #[diesel(sql_type = Timestamptz)]
    due_at: DateTime<Utc>,
    #[diesel(sql_type = Bool)]
    late: bool,
    #[diesel(sql_type = Bool)]
    came_back: bool,
    #[diesel(sql_type = Bool)]
    noted: bool,
    #[diesel(sql_type = Bool)]
    clean: bool,
    #[diesel(sql_type = Array<Text>)]
    findings: Vec<String>,
    #[diesel(sql_type = Nullable<SqlUuid>)]
    marker: Option<Uuid>,
    #[diesel(sql_type = Nullable<Text>)]
    marker_name: Option<String>,
    #[diesel(sql_type = Nullable<Timestamptz>)]
    held_until: Option<DateTime<Utc>>,
}

/// The sort values of work, with the order that they are of: a cursor of another order is no cursor of this list.
#[derive(Clone, Debug, Serialize, Deserialize)]
struct Key(QueueOrder, bool, DateTime<Utc>, Uuid);

/// Kinds of findings, the gravest first: what makes a product unfit or a record impossible, then what was not done as asked,
/// then what was done in another way. Common practice, no source.
const GRAVEST: [FindingKind; 12] = [
    FindingKind::LotExpired,
    FindingKind::Hold,
    FindingKind::Yield,
    FindingKind::OutOfTolerance,
    FindingKind::Ph,
    FindingKind::Temperature,
    FindingKind::Deviation,
    FindingKind::Check,
    FindingKind::Missing,
    FindingKind::StepOrder,
    FindingKind::TooFast,
    FindingKind::YieldLow,
];

fn gravest(kinds: &[FindingKind]) -> Option<FindingKind> {
    GRAVEST.into_iter().find(|kind| kinds.contains(kind))
}

/// The one thing to know of work before it is opened. What came back is read otherwise than what is new; a note is seen
/// nowhere else at once; findings stand first in the record; being late takes no points off.
fn stands_out(came_back: bool, noted: bool, found: bool, late: bool) -> Option<StandsOut> {
    let all = [
        (came_back, StandsOut::CameBack),
        (noted, StandsOut::Noted),
        (found, StandsOut::Found),
        (late, StandsOut::Late),
    ];
    all.into_iter().find(|(is_so, _)| *is_so).map(|(_, what)| what)
}

/// The work of the caller's cohorts that waits to be marked. Work of the caller's own and of declared relations is left
/// out. One statement, and one more for a cohort.
///
/// # Errors
/// Returns [`Error::Forbidden`](store::Error::Forbidden) unless the caller is an instructor, [`Error::NotFound`](store::Error::NotFound) unless the caller is an instructor or
/// marker of the cohort that is asked for, and [`Error::Invalid`](store::Error::Invalid) for a refused cursor.
pub async fn queue(
    store: &Store,
    credentials: &Credentials,
    query: &QueueQuery,
) -> Result<Page<WaitingWork>> {
    let order = query.order.unwrap_or(QueueOrder::Exceptions);
    let mut slice = PageRequest::<Key>::parse(query.limit, query.after.as_deref())?;
    if slice.after.as_ref().is_some_and(|key| key.0 != order) {
        // Refused in the words for any other cursor that is none of this list.
        slice = PageRequest::parse(query.limit, Some("another order"))?;
    }
    store
        .read(credentials, async |tx| {
            tx.instructor()?;
            if let Some(cohort) = query.cohort {
                seat::assessor(tx, cohort).await?;
            }
            let rows = waiting(tx, order, query, &slice).await?;
            let page = slice.page(rows, |row| Key(order, clean(order, row), sorted(order, row), row.id))?;
            let items = page.items.into_iter().map(shown).collect::<Result<_>>()?;
            Ok(Page { items, next: page.next })
        })
        .await
}

fn sorted(order: QueueOrder, row: &Row) -> DateTime<Utc> {
    if order == QueueOrder::Due { row.due_at } else { row.received_at }
}

fn clean(order: QueueOrder, row: &Row) -> bool {
    order == QueueOrder::Exceptions && row.clean
}

async fn waiting(
    tx: &mut Tx<'_>,
    order: QueueOrder,
    query: &QueueQuery,
    slice: &PageRequest<Key>,
) -> Result<Vec<Row>> {
    let (me, now) = (tx.person()?.id, tx.now());
    let came_back = query.came_back == Some(true);
    // What came back stands out, so that of it the oldest come first either way.
    let columns = match order {
        QueueOrder::Due => "due_at, handed_id",
        QueueOrder::Exceptions if !came_back => "clean, received_at, handed_id",
        QueueOrder::Exceptions | QueueOrder::Oldest => "received_at, handed_id",
    };
    let values = if columns.starts_with("clean") { "$3, $4, $5" } else { "$4, $5" };
    let qualified =
        |of: &str| columns.split(", ").map(|one| format!("{of}.{one}")).collect::<Vec<_>>().join(", ");
    let begin = match slice.after {
        Some(_) => format!("AND ({}) > ({values})", qualified("q")),
        None => String::new(),
    };
    let only = if came_back { "AND q.came_back" } else { "" };
    let sql = format!(
        "SELECT h.id, h.number, h.assignment_id AS assignment, v.title, w.cohort_id AS cohort, c.name AS cohort_name,
             c.time_zone, w.student_id AS person, p.name, h.batch_id AS batch, b.number AS batch_number,
             unnamed_work(h.work_id, $1) AS unnamed, candidate_of_work(h.work_id) AS candidate, v.due_at AS class_due_at,
             w.received_at, w.due_at, w.late, w.came_back, w.noted, w.clean, w.findings,
             l.marker_id AS marker, holder.name AS marker_name, l.ends_at AS held_until
         FROM cohort_member m
         CROSS JOIN LATERAL (
             SELECT q.* FROM work_waiting q
             WHERE q.cohort_id = m.cohort_id {only} {begin}
               AND q.student_id <> $1
               AND q.student_id <> ALL (ARRAY(SELECT r.student_id FROM declared_relation r WHERE r.staff_id = $1))
             ORDER BY {of_cohort} LIMIT $6) w
         JOIN handed_work h ON h.id = w.handed_id
         JOIN person p ON p.id = w.student_id
         JOIN assignment_version v ON v.assignment_id = h.assignment_id AND v.number = h.version_number
         JOIN cohort c ON c.id = w.cohort_id
         JOIN batch b ON b.id = h.batch_id
         LEFT JOIN work_claim l ON l.handed_id = h.id AND l.ends_at > $7
         LEFT JOIN person holder ON holder.id = l.marker_id
         WHERE m.person_id = $1 AND m.role IN ('instructor', 'marker') AND ($2 IS NULL OR m.cohort_id = $2)
         ORDER BY {all} LIMIT $6",
        of_cohort = qualified("q"),
        all = qualified("w"),
    );
    let (calm, at, id) = slice.after.as_ref().map_or((false, now, Uuid::nil()), |key| (key.1, key.2, key.3));
    Ok(diesel::sql_query(sql)
        .bind::<SqlUuid, _>(me.0)
        .bind::<Nullable<SqlUuid>, _>(query.cohort.map(|cohort| cohort.0))
        .bind::<Bool, _>(calm)
        .bind::<Timestamptz, _>(at)
        .bind::<SqlUuid, _>(id)
        .bind::<BigInt, _>(slice.fetch())
        .bind::<Timestamptz, _>(now)
        .load(tx.conn())
        .await?)
}

fn shown(row: Row) -> Result<WaitingWork> {
    let zone = local::zone(&row.time_zone)?;
    let kinds = row.findings.iter().map(|kind| word(kind)).collect::<Result<Vec<FindingKind>>>()?;
    let claim = row.marker.zip(row.held_until).map(|(marker, until)| QueueClaim {
        marker: PersonId(marker),
        marker_name: row.marker_name,
        until: local::shown(until, zone),
    });
    let candidate = row.unnamed.then(|| row.candidate.unwrap_or_default());
    let due = if row.unnamed { row.class_due_at } else { row.due_at };
    Ok(WaitingWork {
        submission: WorkSubmissionId(row.id),
        number: row.number.unsigned_abs(),
        assignment: AssignmentId(row.assignment),
        title: row.title,
        cohort: CohortId(row.cohort),
        cohort_name: row.cohort_name,
        person: if row.unnamed { NOBODY } else { PersonId(row.person) },
        name: Some(row.name).filter(|_| !row.unnamed),
        batch: BatchId(row.batch),
        batch_number: candidate.clone().unwrap_or(row.batch_number),
        candidate,
        received_at: row.received_at,
        due: local::shown(due, zone),
        late: row.late,
        findings: u32::try_from(kinds.len()).unwrap_or(u32::MAX),
        finding: gravest(&kinds),
        noted: row.noted,
        stands_out: stands_out(row.came_back, row.noted, !kinds.is_empty(), row.late),
        claim,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_kind_of_finding_has_its_gravity() {
        for kind in FindingKind::ALL {
            assert_eq!(gravest(&[*kind]), Some(*kind));
        }
        assert_eq!(gravest(&[FindingKind::Missing, FindingKind::LotExpired]), Some(FindingKind::LotExpired));
        assert_eq!(gravest(&[]), None);
    }

    /// The order of the words is the one in which they are told.
    #[test]
    fn of_several_things_the_first_stands_out() {
        for bits in 0..16_u8 {
            let has = |bit: u8| bits & (1 << bit) != 0;
            let told = [(has(0), 0), (has(1), 1), (has(2), 2), (has(3), 3)];
            let first = told.into_iter().find(|(is_so, _)| *is_so).map(|(_, place)| StandsOut::ALL[place]);
            assert_eq!(stands_out(has(0), has(1), has(2), has(3)), first);
        }
    }
}
