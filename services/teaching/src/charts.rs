//! Control charts of how closely records follow their recipes: of a cohort's records of one formula, and of a student's.

use galenics::Decimal;
use galenics::control::{Limits, POINTS_NEEDED, RULE, moving_ranges};
use store::{Credentials, Result, Store, Tx};
use wire::ids::{CohortId, FormulaId, PersonId, WorkSubmissionId};
use wire::teaching::{ChartedFormulas, ControlChart, ControlCharts, ControlLimits, ControlPoint};

use crate::judged_work::Whose;
use crate::precision::{self, Record};
use crate::{allowances, progress, seat};

/// The most points of a chart, the newest ones.
const MOST_POINTS: usize = 200;

/// The formulas of which a cohort handed records in, for its instructors and markers.
///
/// # Errors
/// Returns [`store::Error::NotFound`] unless the caller is a member, and [`store::Error::Forbidden`] for students.
pub async fn charted(store: &Store, credentials: &Credentials, cohort: CohortId) -> Result<ChartedFormulas> {
    store
        .read(credentials, async |tx| {
            seat::assessor(tx, cohort).await?;
            Ok(ChartedFormulas { cohort, formulas: precision::formulas(tx, cohort).await? })
        })
        .await
}

/// The charts of a cohort's records of one formula, for its instructors and markers.
///
/// # Errors
/// As [`charted`].
pub async fn charts_of_formula(
    store: &Store,
    credentials: &Credentials,
    cohort: CohortId,
    formula: FormulaId,
) -> Result<ControlCharts> {
    store
        .read(credentials, async |tx| {
            seat::assessor(tx, cohort).await?;
            drawn(tx, Whose { student: None, cohort: Some(cohort) }, Some(formula)).await
        })
        .await
}

/// The charts of a student of a cohort in that cohort, for its instructors and markers.
///
/// # Errors
/// As [`charted`]; returns [`store::Error::NotFound`] unless the person is one of the cohort's students.
pub async fn charts_of(
    store: &Store,
    credentials: &Credentials,
    cohort: CohortId,
    of: PersonId,
) -> Result<ControlCharts> {
    store
        .read(credentials, async |tx| {
            seat::assessor(tx, cohort).await?;
            allowances::student(tx, cohort, of).await?;
            drawn(tx, Whose { student: Some(of), cohort: Some(cohort) }, None).await
        })
        .await
}

/// The caller's own charts, in all cohorts.
///
/// # Errors
/// Returns [`store::Error::Forbidden`] unless the caller is a student.
pub async fn charts_own(store: &Store, credentials: &Credentials) -> Result<ControlCharts> {
    store
        .read(credentials, async |tx| {
            let me = progress::own(tx)?;
            drawn(tx, Whose { student: Some(me), cohort: None }, None).await
        })
        .await
}

async fn drawn(tx: &mut Tx<'_>, whose: Whose, formula: Option<FormulaId>) -> Result<ControlCharts> {
    let records = precision::records(tx, whose, formula).await?;
    let weighings = records.iter().flat_map(|one| one.deviations.iter().map(move |share| (one, *share)));
    let yields = records.iter().filter_map(|one| Some((one, one.yield_share?)));
    Ok(ControlCharts {
        points_needed: u32::try_from(POINTS_NEEDED).unwrap_or(u32::MAX),
        most_points: u32::try_from(MOST_POINTS).unwrap_or(u32::MAX),
        rule: RULE.to_owned(),
        weighing_error: chart(weighings.collect()),
        yield_share: chart(yields.collect()),
    })
}

/// The newest points as a chart.
fn chart(mut of: Vec<(&Record, Decimal)>) -> ControlChart {
    of.drain(..of.len().saturating_sub(MOST_POINTS));
    let values: Vec<Decimal> = of.iter().map(|(_, share)| *share).collect();
    let limits = Limits::of(&values);
    let beyond = |value: Decimal| Some(limits.ok()?.is_beyond(value));
    let range_beyond = |range: Decimal| Some(limits.ok()?.is_range_beyond(range));
    let ranges = moving_ranges(&values);
    let point = |((record, value), range): ((&Record, Decimal), Option<Decimal>)| ControlPoint {
        submission: WorkSubmissionId(record.handed),
        batch_number: record.batch_number.clone(),
        handed_in_at: record.received_at,
        percent: percent(value),
        beyond: beyond(value),
        range_percent: range.map(percent),
        range_beyond: range.and_then(range_beyond),
    };
    ControlChart {
        points: of.into_iter().zip(ranges).map(point).collect(),
        why_not: limits.err().map(|why| why.to_string()),
        limits: limits.ok().map(|limits| ControlLimits {
            mean: percent(limits.mean),
            lower: percent(limits.lower),
            upper: percent(limits.upper),
            mean_range: percent(limits.mean_range),
            range_upper: percent(limits.range_upper),
        }),
    }
}

/// A share in per cent, to two places.
fn percent(share: Decimal) -> String {
    let hundred = share.checked_mul(Decimal::ONE_HUNDRED).unwrap_or(share);
    format!("{:.2}", hundred.round_dp(2))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn record(deviations: &[&str]) -> Record {
        Record {
            handed: uuid::Uuid::nil(),
            batch_number: "2026-0001".into(),
            received_at: chrono::DateTime::UNIX_EPOCH,
            deviations: deviations.iter().map(|share| share.parse().unwrap()).collect(),
            yield_share: None,
        }
    }

    fn of(records: &[Record]) -> ControlChart {
        chart(records.iter().flat_map(|one| one.deviations.iter().map(move |share| (one, *share))).collect())
    }

    #[test]
    fn limits_come_with_the_twentieth_point_and_name_what_is_beyond() {
        let mut records: Vec<Record> = (0..19).map(|at| record(&[["0.004", "-0.002"][at % 2]])).collect();
        let few = of(&records);
        assert!(few.limits.is_none() && few.why_not.unwrap().contains("at least 20 points"));
        assert!(few.points.iter().all(|point| point.beyond.is_none() && point.range_beyond.is_none()));
        records.push(record(&["0.1"]));
        let chart = of(&records);
        assert!(chart.why_not.is_none());
        let last = chart.points.last().unwrap();
        assert_eq!((last.beyond, last.range_beyond), (Some(true), Some(true)), "{chart:?}");
        assert_eq!((last.percent.as_str(), last.range_percent.as_deref()), ("10.00", Some("9.60")));
        assert_eq!(chart.points.iter().filter(|point| point.beyond == Some(true)).count(), 1);
        assert_eq!((chart.points[0].beyond, chart.points[0].range_beyond), (Some(false), None));
        assert_eq!(chart.points[0].range_percent, None);
    }

    #[test]
    fn the_newest_points_are_shown() {
        let records: Vec<Record> = (0..150).map(|at| record(&[["0", "0.0001"][at % 2], "0.0002"])).collect();
        let chart = of(&records);
        assert_eq!(chart.points.len(), MOST_POINTS);
        assert_eq!(chart.points.last().unwrap().percent, "0.02");
    }
}
