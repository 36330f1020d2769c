//! Pauses of a batch: for what it was left, and which time counts for no step.

use chrono::{DateTime, Duration, NaiveDate, Utc};
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use release::Record;
use schema::{batch_pause, batch_resumption};
use store::known_as::Names;
use store::{Error, Result, Tx, word};
use uuid::Uuid;
use wire::ids::PersonId;
use wire::long_work::{Pause, PauseReason};

/// The pauses of a record, the first one first, without names.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn of_record<'t>(tx: &mut Tx<'t>, record: &Record<'t>) -> Result<Vec<Pause>> {
    type Row = (String, NaiveDate, Option<String>, Uuid, DateTime<Utc>, Option<Uuid>, Option<DateTime<Utc>>);
    let rows: Vec<Row> = batch_pause::table
        .left_join(batch_resumption::table.on(batch_resumption::pause_id.eq(batch_pause::id)))
        .filter(batch_pause::batch_id.eq(record.batch().0))
        .order(batch_pause::number)
        .select((
            batch_pause::why,
            batch_pause::until_day,
            batch_pause::note,
            batch_pause::by_id,
            batch_pause::at,
            batch_resumption::by_id.nullable(),
            batch_resumption::at.nullable(),
        ))
        .load(tx.conn())
        .await?;
    let told = |(why, until, note, by, at, resumed_by, resumed_at): Row| {
        Ok(Pause {
            why: word::<PauseReason>(&why)?,
            until,
            note,
            by: PersonId(by),
            by_name: None,
            at,
            resumed_at,
            resumed_by: resumed_by.map(PersonId),
            resumed_by_name: None,
        })
    };
    rows.into_iter().map(told).collect()
}

/// Everybody whom a pause names.
pub(crate) fn people(pause: &Pause) -> impl Iterator<Item = Uuid> + use<> {
    [Some(pause.by.0), pause.resumed_by.map(|by| by.0)].into_iter().flatten()
}

/// The pause with the names of whom it tells.
pub(crate) fn named(pause: Pause, names: &Names) -> Pause {
    Pause {
        by_name: names.of(pause.by.0),
        resumed_by_name: pause.resumed_by.and_then(|by| names.of(by.0)),
        ..pause
    }
}

/// The pause that has not ended.
pub(crate) fn open(pauses: &[Pause]) -> Option<&Pause> {
    pauses.iter().find(|pause| pause.resumed_at.is_none())
}

/// Refuses what would go on with a batch while it is paused.
///
/// # Errors
/// Returns [`Error::State`] with until when it is paused, and the cure.
pub(crate) fn goes_on(pauses: &[Pause], cure: &str) -> Result<()> {
    match open(pauses) {
        None => Ok(()),
        Some(pause) => {
            let said = format!("This batch is paused until {} ({}). {cure}", pause.until, pause.why);
            Err(Error::state("paused", said))
        }
    }
}

/// How much of the time between two instants was interrupted, so that it counts for no step that must last.
pub(crate) fn interrupted(pauses: &[Pause], from: DateTime<Utc>, to: DateTime<Utc>) -> Duration {
    let stood = pauses.iter().filter(|pause| !pause.why.works_by_itself()).map(|pause| {
        let (begin, end) = (pause.at.max(from), pause.resumed_at.unwrap_or(to).min(to));
        (end - begin).max(Duration::zero())
    });
    // Two pauses never overlap: the next one begins after the last has ended.
    stood.fold(Duration::zero(), |all, one| all + one)
}

#[cfg(test)]
mod tests {
    use chrono::TimeZone;

    use super::*;

    fn at(hour: u32) -> DateTime<Utc> {
        Utc.with_ymd_and_hms(2026, 12, 1, hour, 0, 0).unwrap()
    }

    fn pause(why: PauseReason, from: u32, to: Option<u32>) -> Pause {
        Pause {
            why,
            until: at(from).date_naive(),
            note: None,
            by: PersonId(Uuid::nil()),
            by_name: None,
            at: at(from),
            resumed_at: to.map(at),
            resumed_by: None,
            resumed_by_name: None,
        }
    }

    #[test]
    fn only_an_interruption_counts_for_no_step() {
        let pauses = [
            pause(PauseReason::Macerating, 1, Some(5)),
            pause(PauseReason::Interrupted, 6, Some(8)),
            pause(PauseReason::Interrupted, 10, None),
        ];
        assert_eq!(interrupted(&pauses, at(0), at(9)), Duration::hours(2));
        assert_eq!(interrupted(&pauses, at(7), at(11)), Duration::hours(2), "parts of two");
        assert_eq!(interrupted(&pauses, at(8), at(10)), Duration::zero());
        assert!(open(&pauses).is_some_and(|open| open.at == at(10)));
        assert!(goes_on(&pauses[..2], "").is_ok());
        assert!(goes_on(&pauses, "Take it up again.").is_err());
    }
}
