//! What whoever holds a jar may know of it, by the code on it: whether it may be used, and what its label says. No amount of
//! the recipe, no method, no person.

use chrono::{DateTime, NaiveDate, Utc};
use diesel::QueryableByName;
use diesel::prelude::*;
use diesel::sql_types::{Array, Bool, Date, Integer, Nullable, Text, Timestamptz, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use formulary::sets;
use schema::jar;
use store::{Error, Result, Store, Tx, word};
use uuid::Uuid;
use wire::bench::Disposition;
use wire::ids::{JarId, RevisionId};
use wire::jars::{JarPage, JarStands};

use crate::codes;
use crate::stored_label::StoredLabel;

#[derive(QueryableByName)]
struct Row {
    #[diesel(sql_type = Integer)]
    number: i32,
    #[diesel(sql_type = Text)]
    fill: String,
    #[diesel(sql_type = Nullable<Date>)]
    use_by: Option<NaiveDate>,
    #[diesel(sql_type = Text)]
    batch_number: String,
    #[diesel(sql_type = Text)]
    disposition: String,
    #[diesel(sql_type = SqlUuid)]
    revision_id: Uuid,
    #[diesel(sql_type = Bool)]
    stopped: bool,
    #[diesel(sql_type = Text)]
    facts: String,
    #[diesel(sql_type = Nullable<Date>)]
    batch_until: Option<NaiveDate>,
    #[diesel(sql_type = Bool)]
    sample: bool,
    #[diesel(sql_type = Nullable<Array<Integer>>)]
    decanted_into: Option<Vec<i32>>,
    #[diesel(sql_type = Nullable<Date>)]
    shortened: Option<NaiveDate>,
    #[diesel(sql_type = Nullable<Timestamptz>)]
    recalled_at: Option<DateTime<Utc>>,
}

/// A jar by its code.
const JAR: &str = "
    SELECT j.number, f.fill, f.use_by, b.number AS batch_number, b.disposition, b.revision_id,
        revision_stopped(b.revision_id) AS stopped, l.facts, batch_last_day(b.id) AS batch_until, d.at AS recalled_at,
        EXISTS (SELECT FROM retained_sample s WHERE s.jar_id = j.id) AS sample,
        (SELECT array_agg(o.number ORDER BY o.number) FROM jar o JOIN jar_filling n ON n.id = o.filling_id
            WHERE n.decanted_from = j.id) AS decanted_into,
        (SELECT min(s.last_day) FROM batch_shortening s WHERE s.batch_id = b.id) AS shortened
    FROM jar j JOIN jar_filling f ON f.id = j.filling_id JOIN batch b ON b.id = j.batch_id
    CROSS JOIN LATERAL (
        SELECT k.facts FROM batch_label k WHERE k.batch_id = b.id ORDER BY k.number DESC LIMIT 1) l
    LEFT JOIN batch_decision d ON d.batch_id = b.id AND d.decision = 'recalled'
    WHERE j.token = $1";

/// What is in a jar, for whoever holds it, by the code as it was typed or scanned. Cost: three statements.
///
/// # Errors
/// Returns [`Error::NotFound`] if no jar has this code.
pub async fn jar_page(store: &Store, typed: &str) -> Result<JarPage> {
    let code = codes::read(typed).ok_or(Error::NotFound("jar"))?;
    store.run_unauthenticated(async |tx| of_code(tx, &code).await).await
}

/// The jar with this code, as it was typed or scanned.
///
/// # Errors
/// Returns [`Error::NotFound`] if no jar has this code.
pub async fn jar_of_code(tx: &mut Tx<'_>, typed: &str) -> Result<JarId> {
    let code = codes::read(typed).ok_or(Error::NotFound("jar"))?;
    let found: Option<Uuid> =
        jar::table.filter(jar::token.eq(code)).select(jar::id).first(tx.conn()).await.optional()?;
    found.map(JarId).ok_or(Error::NotFound("jar"))
}

async fn of_code(tx: &mut Tx<'_>, code: &str) -> Result<JarPage> {
    let row: Option<Row> =
        diesel::sql_query(JAR).bind::<Text, _>(code).get_result(tx.conn()).await.optional()?;
    let row = row.ok_or(Error::NotFound("jar"))?;
    let revision = RevisionId(row.revision_id);
    let rules = policy::rules(tx).await?;
    let now = sets::current(tx, revision).await?;
    let today = rules.date(tx.now());
    // The earlier of the jar's own day and that of its batch.
    let day = [row.use_by, row.batch_until].into_iter().flatten().min();
    let recalled = row.recalled_at.map(|at| rules.date(at));
    let beside = Beside { sample: row.sample, empty: row.decanted_into.is_some() };
    let stands = stands((word(&row.disposition)?, beside), row.stopped, day, (today, recalled));
    let (facts, cautions) = StoredLabel::read(&row.facts)?.into_parts();
    let said = recipes::label::said(tx.reference, &cautions, &now.cautions);
    Ok(JarPage {
        batch_number: row.batch_number,
        number: row.number.unsigned_abs(),
        fill: row.fill,
        today,
        stands,
        decanted_into: row.decanted_into.iter().flatten().map(|number| number.unsigned_abs()).collect(),
        shortened: day.is_some() && day == row.shortened,
        facts,
        warnings: said.warnings,
        patch_test: said.patch_test,
        longest_use: said.longest_use,
        clinic: rules.clinic_name,
        notice: rules.notice,
    })
}

/// What a jar is besides one to be used.
#[derive(Clone, Copy)]
pub(crate) struct Beside {
    /// It is kept as a sample.
    pub(crate) sample: bool,
    /// Its content was filled into others.
    pub(crate) empty: bool,
}

/// Whether a jar may be used. What forbids it comes before its date, and what was decided before what is unknown.
pub(crate) fn stands(
    (disposition, beside): (Disposition, Beside),
    stopped: bool,
    day: Option<NaiveDate>,
    (today, recalled): (NaiveDate, Option<NaiveDate>),
) -> JarStands {
    match (disposition, day) {
        (Disposition::Recalled, _) => JarStands::Recalled(recalled),
        (Disposition::Discarded, _) => JarStands::Discarded,
        _ if beside.empty => JarStands::Empty,
        _ if beside.sample => JarStands::Sample,
        (Disposition::PracticeOnly, _) => JarStands::PracticeOnly,
        (Disposition::Quarantine, _) | (Disposition::Released, None) => JarStands::NotReleased,
        (Disposition::Released, Some(_)) if stopped => JarStands::Stopped,
        (Disposition::Released, Some(day)) if day < today => JarStands::Past(day),
        (Disposition::Released, Some(day)) => JarStands::InDate(day),
    }
}

/// Why a jar is not handed out; nothing where it may be.
pub(crate) fn barred(stands: JarStands) -> Option<String> {
    let said = match stands {
        JarStands::InDate(_) => return None,
        JarStands::Past(day) => return Some(format!("Its last day was {day}. It is not handed out.")),
        JarStands::Stopped => "Its formula is withdrawn, withheld or stopped. It is not handed out.",
        JarStands::NotReleased => "It is not released. An instructor who did not make it releases it first.",
        JarStands::Sample => "It is kept as a sample. It is never handed out.",
        JarStands::Empty => "It is empty: its content is in other jars. It is not handed out.",
        JarStands::PracticeOnly => "It was made for practice. It is never handed out.",
        JarStands::Recalled(_) => "It is recalled. It is not handed out.",
        JarStands::Discarded => "It is discarded. It is not handed out.",
    };
    Some(said.to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    const JAR: Beside = Beside { sample: false, empty: false };
    const SAMPLE: Beside = Beside { sample: true, empty: false };
    const EMPTY: Beside = Beside { sample: false, empty: true };

    #[test]
    fn only_what_was_released_and_is_in_date_may_be_used() {
        let day = |text: &str| text.parse::<NaiveDate>().unwrap();
        let (last, on) = (Some(day("2026-12-19")), |today: &str| (day(today), None));
        let released = |stopped, last, today| stands((Disposition::Released, JAR), stopped, last, on(today));
        assert_eq!(released(false, last, "2026-12-19"), JarStands::InDate(day("2026-12-19")));
        assert_eq!(released(false, last, "2026-12-20"), JarStands::Past(day("2026-12-19")));
        assert_eq!(released(true, last, "2026-12-01"), JarStands::Stopped);
        assert_eq!(released(false, None, "2026-12-01"), JarStands::NotReleased);
        assert_eq!(stands((Disposition::Released, SAMPLE), false, last, on("2026-12-01")), JarStands::Sample);
        assert_eq!(stands((Disposition::Released, EMPTY), false, last, on("2026-12-01")), JarStands::Empty);
        for (disposition, says) in [
            (Disposition::Quarantine, JarStands::NotReleased),
            (Disposition::PracticeOnly, JarStands::PracticeOnly),
            (Disposition::Discarded, JarStands::Discarded),
            (Disposition::Recalled, JarStands::Recalled(None)),
        ] {
            assert_eq!(stands((disposition, JAR), true, last, on("2027-01-01")), says);
            let forbidden = matches!(disposition, Disposition::Discarded | Disposition::Recalled);
            let of_sample = stands((disposition, SAMPLE), true, last, on("2027-01-01"));
            assert_eq!(of_sample, if forbidden { says } else { JarStands::Sample });
        }
    }
}
