//! Telling a reaction: on the page of a jar, by whoever holds it, and at the clinic.

use chrono::{Datelike, Duration, NaiveDate};
use diesel::QueryableByName;
use diesel::prelude::*;
use diesel::sql_types::{BigInt, Timestamptz, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use schema::{reaction_case, reaction_counter, reaction_report, reaction_words};
use store::{Credentials, Error, IdempotencyKey, NewEvent, Result, Rng, Store, Tx, violates};
use uuid::Uuid;
use wire::ids::JarId;
use wire::problem::FieldError;
use wire::reactions::{
    NewReaction, ReactionCaseState, ReactionOutcome, ReactionReceipt, ReactionTold, Seriousness,
};

use crate::kept::{CASE, REPORT};

/// The most characters of a text about a reaction.
pub(crate) const LONGEST: usize = 2000;

/// The words of a report are kept for ten years after it, as a cosmetic's file is (Regulation (EC) No 1223/2009, article 11(1),
/// which counts from the last batch on the market; from memory). That it came, and about which jar, stays.
const KEPT_DAYS: i64 = 3653;

/// The letters of a reference, of which no two are taken for each other.
const LETTERS: &[u8; 32] = b"0123456789abcdefghjkmnpqrstvwxyz";

/// Whose report it is.
enum By {
    /// Of whoever holds the jar; the digest of their form's own key.
    Holder([u8; 32]),
    /// Of a person who is signed in.
    Person(Uuid),
}

/// Refuses a report that cannot be kept, whoever tells it. `today` is the day of the clinic, and a day later is accepted for
/// whoever lives further east.
///
/// # Errors
/// Returns [`Error::Invalid`] with every field that is refused.
pub fn acceptable(request: &NewReaction, today: NaiveDate) -> Result<()> {
    let mut errors = Vec::new();
    let length = request.what.trim().chars().count();
    if !(1..=LONGEST).contains(&length) {
        errors.push(FieldError::new(
            "/what",
            format!("Enter what happened in 1 to {LONGEST} characters. These are {length}."),
        ));
    }
    if let Some(day) = request.began_on
        && (day.year() < 1900 || day > today + Duration::days(1))
    {
        let cure = format!("Enter the day on which it began, at latest today, {today}, or leave it empty.");
        errors.push(FieldError::new("/began_on", cure));
    }
    if errors.is_empty() { Ok(()) } else { Err(Error::Invalid(errors)) }
}

/// Keeps a report from the page of a jar, by its code. Nobody is asked who they are. `form` is a digest of the form's own
/// random key: the same form sent twice is one report.
///
/// # Errors
/// Returns [`Error::NotFound`] if no jar has this code, [`Error::Invalid`] for refused fields, and [`Error::Conflict`] where
/// ten reports about the jar came within a day.
pub async fn tell_on_page(
    store: &Store,
    code: &str,
    form: [u8; 32],
    request: &NewReaction,
) -> Result<ReactionReceipt> {
    store
        .run_unauthenticated(async |tx| {
            let jar = bench::jar_of_code(tx, code).await?;
            if let Some(told) = of_form(tx, jar, &form).await? {
                return Ok(told);
            }
            let today = policy::rules(tx).await?.date(tx.now());
            acceptable(request, today)?;
            let report = write(tx, jar, request, &By::Holder(form)).await?;
            receipt_of(tx, report).await
        })
        .await
}

/// Keeps a report that somebody told at the clinic. For members of the library of the jar.
///
/// # Errors
/// Returns [`Error::Forbidden`] for API clients, [`Error::NotFound`] if no jar of the caller's libraries has this id, and
/// [`Error::Invalid`] for refused fields.
pub async fn tell_at_clinic(
    store: &Store,
    credentials: &Credentials,
    once: &IdempotencyKey,
    jar: JarId,
    request: &NewReaction,
) -> Result<ReactionReceipt> {
    store
        .create(
            credentials,
            once,
            async |tx| {
                let me = tx.person()?.id.0;
                of_member(tx, jar, me).await?;
                let today = policy::rules(tx).await?.date(tx.now());
                acceptable(request, today)?;
                write(tx, jar, request, &By::Person(me)).await
            },
            async |tx, report| receipt_of(tx, report).await,
        )
        .await
}

/// What was told on the page of a jar under this reference.
///
/// # Errors
/// Returns [`Error::NotFound`] if nothing was.
pub async fn receipt(store: &Store, code: &str, reference: &str) -> Result<ReactionReceipt> {
    store
        .run_unauthenticated(async |tx| {
            let jar = bench::jar_of_code(tx, code).await?;
            let found = reaction_report::table
                .filter(reaction_report::jar_id.eq(jar.0))
                .filter(reaction_report::reference.eq(reference))
                .select((reaction_report::reference, reaction_report::at))
                .first(tx.conn())
                .await
                .optional()?;
            let (reference, at) = found.ok_or(Error::NotFound("report"))?;
            Ok(ReactionReceipt { reference, at })
        })
        .await
}

/// Removes the words of reports that are older than ten years, at most a thousand. Answers how many.
///
/// # Errors
/// Returns the errors of the database.
pub async fn purge(store: &Store) -> Result<usize> {
    store
        .run_unauthenticated(async |tx| {
            let before = tx.now() - Duration::days(KEPT_DAYS);
            Ok(diesel::sql_query(
                "DELETE FROM reaction_words WHERE report_id IN (
                     SELECT w.report_id FROM reaction_words w JOIN reaction_report r ON r.id = w.report_id
                     WHERE r.at < $1 LIMIT $2)",
            )
            .bind::<Timestamptz, _>(before)
            .bind::<BigInt, _>(store::purge::BATCH)
            .execute(tx.conn())
            .await?)
        })
        .await
}

async fn of_form(tx: &mut Tx<'_>, jar: JarId, form: &[u8; 32]) -> Result<Option<ReactionReceipt>> {
    let found = reaction_report::table
        .filter(reaction_report::form.eq(form.to_vec()))
        .filter(reaction_report::jar_id.eq(jar.0))
        .select((reaction_report::reference, reaction_report::at))
        .first(tx.conn())
        .await
        .optional()?;
    Ok(found.map(|(reference, at)| ReactionReceipt { reference, at }))
}

async fn receipt_of(tx: &mut Tx<'_>, report: Uuid) -> Result<ReactionReceipt> {
    let (reference, at) = reaction_report::table
        .find(report)
        .select((reaction_report::reference, reaction_report::at))
        .first(tx.conn())
        .await?;
    Ok(ReactionReceipt { reference, at })
}

#[derive(QueryableByName)]
struct There {
    #[diesel(sql_type = SqlUuid)]
    id: Uuid,
}

/// A jar of a library that a person is a member of.
async fn of_member(tx: &mut Tx<'_>, jar: JarId, me: Uuid) -> Result<()> {
    let found: Option<There> = diesel::sql_query(
        "SELECT j.id FROM jar j JOIN batch b ON b.id = j.batch_id JOIN revision r ON r.id = b.revision_id
         JOIN formula f ON f.id = r.formula_id
         JOIN library_member m ON m.library_id = f.library_id AND m.holder_id = $2 WHERE j.id = $1",
    )
    .bind::<SqlUuid, _>(jar.0)
    .bind::<SqlUuid, _>(me)
    .get_result(tx.conn())
    .await
    .optional()?;
    found.filter(|found| found.id == jar.0).map(drop).ok_or(Error::NotFound("jar"))
}

/// Writes a report and the case that it opens; answers the report.
async fn write(tx: &mut Tx<'_>, jar: JarId, request: &NewReaction, by: &By) -> Result<Uuid> {
    let case = tx.new_id();
    let number = next_number(tx).await?;
    diesel::insert_into(reaction_case::table)
        .values((
            reaction_case::id.eq(case),
            reaction_case::number.eq(number),
            reaction_case::state.eq(ReactionCaseState::Open.as_str()),
            reaction_case::version.eq(1_i64),
            reaction_case::opened_at.eq(tx.now()),
        ))
        .execute(tx.conn())
        .await?;
    let report = tx.new_id();
    let (told, person, form) = match by {
        By::Holder(form) => (ReactionTold::OnThePage, None, Some(form.to_vec())),
        By::Person(person) => (ReactionTold::AtTheClinic, Some(*person), None),
    };
    let flooded = |error: diesel::result::Error| match violates(&error, "reaction_report_bounded") {
        true => Error::Conflict(
            "Ten reports about this jar came within a day. Call the clinic that gave it to you.".into(),
        ),
        false if violates(&error, "reaction_report_form") => Error::KeyInFlight,
        false => error.into(),
    };
    diesel::insert_into(reaction_report::table)
        .values((
            reaction_report::id.eq(report),
            reaction_report::case_id.eq(case),
            reaction_report::jar_id.eq(jar.0),
            reaction_report::reference.eq(reference(tx.rng)),
            reaction_report::told.eq(told.as_str()),
            reaction_report::by_id.eq(person),
            reaction_report::form.eq(form),
            reaction_report::began_on.eq(request.began_on),
            reaction_report::outcome.eq(request.outcome.as_str()),
            reaction_report::serious.eq(serious(request)),
            reaction_report::at.eq(tx.now()),
        ))
        .execute(tx.conn())
        .await
        .map_err(flooded)?;
    diesel::insert_into(reaction_words::table)
        .values((reaction_words::report_id.eq(report), reaction_words::text.eq(request.what.trim())))
        .execute(tx.conn())
        .await?;
    tx.record(NewEvent::new("reaction_case", case, "reported").keeps(&CASE, [case]).keeps(&REPORT, [report]));
    Ok(report)
}

/// What makes a report serious, each once. What ended in death is.
fn serious(request: &NewReaction) -> Vec<&'static str> {
    let fatal = (request.outcome == ReactionOutcome::Fatal).then_some(Seriousness::Death);
    let mut all: Vec<Seriousness> = request.serious.iter().copied().chain(fatal).collect();
    all.sort_unstable();
    all.dedup();
    all.into_iter().map(Seriousness::as_str).collect()
}

/// The next number of the year, such as `R2026-0007`. The row lock of the counter keeps numbers unique and gapless.
async fn next_number(tx: &mut Tx<'_>) -> Result<String> {
    let year = policy::rules(tx).await?.date(tx.now()).year();
    let last: i32 = diesel::insert_into(reaction_counter::table)
        .values((reaction_counter::year.eq(year), reaction_counter::last.eq(1)))
        .on_conflict(reaction_counter::year)
        .do_update()
        .set(reaction_counter::last.eq(reaction_counter::last + 1))
        .returning(reaction_counter::last)
        .get_result(tx.conn())
        .await?;
    Ok(format!("R{year}-{last:04}"))
}

/// A new reference: eight letters of five random bits each.
fn reference(rng: &Rng) -> String {
    let letter = |byte: &u8| LETTERS.get(usize::from(byte & 31)).copied().map_or('0', char::from);
    rng.bytes::<8>().iter().map(letter).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn told(what: &str) -> NewReaction {
        let outcome = ReactionOutcome::Unknown;
        NewReaction { what: what.to_owned(), began_on: None, outcome, serious: Vec::new() }
    }

    #[test]
    fn words_and_days_have_their_bounds() {
        let today = NaiveDate::from_ymd_opt(2026, 3, 2).unwrap();
        let refused = |request: &NewReaction| match acceptable(request, today) {
            Ok(()) => Vec::new(),
            Err(Error::Invalid(errors)) => errors.into_iter().map(|error| error.pointer).collect(),
            Err(other) => panic!("{other}"),
        };
        assert!(refused(&told("It itched.")).is_empty());
        assert!(refused(&told(&"\u{e4}".repeat(2000))).is_empty());
        assert_eq!(refused(&told("  ")), ["/what"]);
        assert_eq!(refused(&told(&"x".repeat(2001))), ["/what"]);
        for (day, accepted) in [("2026-03-03", true), ("2026-03-04", false), ("1899-12-31", false)] {
            let began = NewReaction { began_on: day.parse().ok(), ..told("It itched.") };
            assert_eq!(refused(&began).is_empty(), accepted, "{day}");
        }
    }

    #[test]
    fn what_ended_in_death_is_serious_and_each_criterion_stands_once() {
        let fatal = NewReaction {
            outcome: ReactionOutcome::Fatal,
            serious: vec![Seriousness::Hospitalisation, Seriousness::Death, Seriousness::Hospitalisation],
            ..told("x")
        };
        assert_eq!(serious(&fatal), ["death", "hospitalisation"]);
        assert!(serious(&told("x")).is_empty());
    }
}
