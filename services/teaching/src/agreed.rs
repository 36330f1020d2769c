//! How far first and second marks agree: of each assignment, on each criterion. Below so many pairs they are told one by one.

use std::collections::HashMap;

use diesel::prelude::*;
use diesel::sql_types::{BigInt, Bool, Integer, Nullable, SmallInt, Text, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use galenics::agreement::{Kappa, NoKappa, PAIRS_NEEDED, RULE};
use store::{Credentials, Error, Result, Store, Tx};
use uuid::Uuid;
use wire::ids::{AssignmentId, CohortId, ModerationId};
use wire::teaching::{
    AssignmentAgreement, CohortAgreement, CriterionAgreement, MarkDifference, WeightedKappa,
};

use crate::{moderated, pair};

/// The most assignments, and the most criteria of pairs: far more than a class has.
const MOST_ASSIGNMENTS: i64 = 100;
const MOST_ROWS: i64 = 100_000;

#[derive(QueryableByName)]
struct OfAssignment {
    #[diesel(sql_type = SqlUuid)]
    id: Uuid,
    #[diesel(sql_type = Text)]
    title: String,
    #[diesel(sql_type = BigInt)]
    drawn: i64,
}

/// Both decisions on one criterion of one piece of work.
#[derive(QueryableByName)]
struct Row {
    #[diesel(sql_type = SqlUuid)]
    assignment: Uuid,
    #[diesel(sql_type = SqlUuid)]
    moderation: Uuid,
    #[diesel(sql_type = SmallInt)]
    position: i16,
    #[diesel(sql_type = Text)]
    title: String,
    #[diesel(sql_type = Bool)]
    must_pass: bool,
    #[diesel(sql_type = Integer)]
    levels: i32,
    /// The levels as they are written: another text is another criterion.
    #[diesel(sql_type = Text)]
    as_written: String,
    #[diesel(sql_type = Nullable<SmallInt>)]
    first_level: Option<i16>,
    #[diesel(sql_type = Nullable<Bool>)]
    first_met: Option<bool>,
    #[diesel(sql_type = Nullable<SmallInt>)]
    second_level: Option<i16>,
    #[diesel(sql_type = Nullable<Bool>)]
    second_met: Option<bool>,
}

/// The levels of both marks of one moderation.
type Levels = (Uuid, u32, u32);

/// A level counted from 1; of a must-pass criterion 1 is not met and 2 is met.
fn level(level: Option<i16>, met: Option<bool>) -> Result<u32> {
    match (level, met) {
        (Some(level), _) => Ok(level.unsigned_abs().into()),
        (None, Some(met)) => Ok(if met { 2 } else { 1 }),
        (None, None) => Err(Error::internal("a criterion without a decision")),
    }
}

/// How far first and second marks of a cohort agree, for its instructors and markers. Marks that are closed to the caller as a
/// second marker are left out. Five statements.
///
/// # Errors
/// Returns [`Error::NotFound`] unless the caller is a member, and [`Error::Forbidden`] for students.
pub async fn agreement(
    store: &Store,
    credentials: &Credentials,
    cohort: CohortId,
) -> Result<CohortAgreement> {
    store
        .read(credentials, async |tx| {
            let share = moderated::share(tx, cohort).await?;
            let assignments = assignments(tx, cohort).await?;
            let mut of: HashMap<Uuid, Vec<Row>> = HashMap::new();
            for row in rows(tx, cohort).await? {
                of.entry(row.assignment).or_default().push(row);
            }
            let told = |one: OfAssignment| {
                let rows = of.remove(&one.id).unwrap_or_default();
                assignment(one, &rows)
            };
            Ok(CohortAgreement {
                cohort,
                share,
                pairs_needed: count(PAIRS_NEEDED),
                rule: RULE.to_owned(),
                assignments: assignments.into_iter().map(told).collect::<Result<_>>()?,
            })
        })
        .await
}

fn count(number: usize) -> u32 {
    u32::try_from(number).unwrap_or(u32::MAX)
}

async fn assignments(tx: &mut Tx<'_>, cohort: CohortId) -> Result<Vec<OfAssignment>> {
    Ok(diesel::sql_query(
        "SELECT a.id, v.title, d.drawn FROM assignment a
         JOIN assignment_version v ON v.assignment_id = a.id AND v.number = a.current_version
         CROSS JOIN LATERAL (SELECT count(*) AS drawn FROM moderation m WHERE m.assignment_id = a.id) d
         WHERE a.cohort_id = $1 AND d.drawn > 0 ORDER BY v.due_at, a.id LIMIT $2",
    )
    .bind::<SqlUuid, _>(cohort.0)
    .bind::<BigInt, _>(MOST_ASSIGNMENTS)
    .load(tx.conn())
    .await?)
}

async fn rows(tx: &mut Tx<'_>, cohort: CohortId) -> Result<Vec<Row>> {
    let me = tx.person()?.id;
    Ok(diesel::sql_query(
        "SELECT m.assignment_id AS assignment, m.id AS moderation, c.position, c.level AS first_level, c.met AS first_met,
             o.level AS second_level, o.met AS second_met, r.criterion ->> 'title' AS title,
             (r.criterion ->> 'must_pass')::boolean AS must_pass,
             jsonb_array_length(r.criterion -> 'levels') AS levels, (r.criterion -> 'levels')::text AS as_written
         FROM assignment a JOIN moderation m ON m.assignment_id = a.id
         JOIN handed_work h ON h.id = m.handed_id
         JOIN work_mark_criterion c ON c.mark_id = m.mark_id
         JOIN second_mark_criterion o ON o.moderation_id = m.id AND o.position = c.position
         JOIN assignment_version v ON v.assignment_id = h.assignment_id AND v.number = h.version_number
         CROSS JOIN LATERAL (SELECT v.rubric -> 'criteria' -> (c.position - 1) AS criterion) r
         WHERE a.cohort_id = $1 AND NOT blind_work(h.work_id, $2)
         ORDER BY m.assignment_id, m.id, c.position LIMIT $3",
    )
    .bind::<SqlUuid, _>(cohort.0)
    .bind::<SqlUuid, _>(me.0)
    .bind::<BigInt, _>(MOST_ROWS)
    .load(tx.conn())
    .await?)
}

fn assignment(of: OfAssignment, rows: &[Row]) -> Result<AssignmentAgreement> {
    let mut alike: HashMap<Uuid, bool> = HashMap::new();
    // In the order of the rubrics, the older version before the newer one.
    let mut criteria: Vec<(&Row, Vec<Levels>)> = Vec::new();
    for row in rows {
        let (first, second) =
            (level(row.first_level, row.first_met)?, level(row.second_level, row.second_met)?);
        *alike.entry(row.moderation).or_insert(true) &= first == second;
        let same = |(one, _): &&mut (&Row, Vec<_>)| {
            (&one.title, one.must_pass, &one.as_written) == (&row.title, row.must_pass, &row.as_written)
        };
        match criteria.iter_mut().find(same) {
            Some((_, pairs)) => pairs.push((row.moderation, first, second)),
            None => criteria.push((row, vec![(row.moderation, first, second)])),
        }
    }
    criteria.sort_by_key(|(row, _)| row.position);
    Ok(AssignmentAgreement {
        assignment: AssignmentId(of.id),
        title: of.title,
        drawn: u32::try_from(of.drawn).unwrap_or(u32::MAX),
        pairs: count(alike.len()),
        agreed: count(alike.values().filter(|alike| **alike).count()),
        criteria: criteria.iter().map(|(row, pairs)| criterion(row, pairs)).collect(),
    })
}

fn criterion(row: &Row, pairs: &[Levels]) -> CriterionAgreement {
    let levels = if row.must_pass { 2 } else { usize::try_from(row.levels).unwrap_or_default() };
    let from_nought = |level: u32| usize::try_from(level.saturating_sub(1)).unwrap_or(usize::MAX);
    let counted: Vec<(usize, usize)> =
        pairs.iter().map(|(_, first, second)| (from_nought(*first), from_nought(*second))).collect();
    let kappa = Kappa::of(levels, &counted);
    let few = kappa == Err(NoKappa::TooFew);
    let differences = pairs.iter().filter(|(_, first, second)| few && first != second);
    CriterionAgreement {
        title: row.title.clone(),
        must_pass: row.must_pass,
        levels: count(levels),
        pairs: count(pairs.len()),
        agreed: count(pairs.iter().filter(|(_, first, second)| first == second).count()),
        why_not: kappa.err().map(|why| why.to_string()),
        kappa: kappa.ok().map(|kappa| WeightedKappa {
            value: format!("{:.3}", kappa.value.round_dp(3)),
            low: format!("{:.3}", kappa.low.round_dp(3)),
            high: format!("{:.3}", kappa.high.round_dp(3)),
        }),
        differences: differences
            .map(|(moderation, first, second)| MarkDifference {
                moderation: ModerationId(*moderation),
                code: pair::code(*moderation),
                first: *first,
                second: *second,
            })
            .collect(),
    }
}
