//! Handing a jar out, and taking it back.
//!
//! To a reference of the clinic's own, never to a name. That it was asked whether the jar suits is written, the answer is
//! not. What came back is never handed out again. Never here: an amount of the recipe.

use chrono::{DateTime, NaiveDate, Utc};
use diesel::QueryableByName;
use diesel::prelude::*;
use diesel::sql_types::{Array, Bool, Date, Integer, Nullable, Text, Timestamptz, Uuid as SqlUuid};
use diesel_async::RunQueryDsl;
use formulary::sets;
use locks::{Locks, lock};
use schema::{jar_handing, jar_return};
use store::actor::Actor;
use store::known_as::{self, Names};
use store::{Credentials, Error, IdempotencyKey, NewEvent, Result, Store, Tx, violates, word};
use uuid::Uuid;
use wire::bench::Disposition;
use wire::ids::{BatchId, JarId, PersonId, RevisionId};
use wire::jars::{Jar, JarHanded, JarReturned, JarSheet, NewHanding, NewJarReturn};
use wire::people::Scope;
use wire::problem::FieldError;

use crate::jar_page::{Beside, barred, jar_of_code, stands};
use crate::kept::{HANDING, RETURN};
use crate::stored_label::StoredLabel;

#[derive(QueryableByName)]
struct Row {
    #[diesel(sql_type = SqlUuid)]
    id: Uuid,
    #[diesel(sql_type = SqlUuid)]
    batch_id: Uuid,
    #[diesel(sql_type = Integer)]
    number: i32,
    #[diesel(sql_type = Text)]
    token: String,
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
    #[diesel(sql_type = Nullable<Integer>)]
    decanted_from: Option<i32>,
    #[diesel(sql_type = Nullable<Array<Integer>>)]
    decanted_into: Option<Vec<i32>>,
    #[diesel(sql_type = Nullable<Timestamptz>)]
    recalled_at: Option<DateTime<Utc>>,
}

impl Row {
    /// Its last day: its own, or the earlier one of its batch.
    fn until(&self) -> Option<NaiveDate> {
        [self.use_by, self.batch_until].into_iter().flatten().min()
    }
}

/// A jar of a library that the caller, `$2`, is a member of.
const JAR: &str = "
    SELECT j.id, j.batch_id, j.number, j.token, f.fill, f.use_by, b.number AS batch_number, b.disposition, b.revision_id,
        revision_stopped(r.id) AS stopped, l.facts, batch_last_day(b.id) AS batch_until, d.at AS recalled_at,
        EXISTS (SELECT FROM retained_sample s WHERE s.jar_id = j.id) AS sample,
        (SELECT o.number FROM jar o WHERE o.id = f.decanted_from) AS decanted_from,
        (SELECT array_agg(o.number ORDER BY o.number) FROM jar o JOIN jar_filling n ON n.id = o.filling_id
            WHERE n.decanted_from = j.id) AS decanted_into
    FROM jar j JOIN jar_filling f ON f.id = j.filling_id JOIN batch b ON b.id = j.batch_id
    JOIN revision r ON r.id = b.revision_id JOIN formula o ON o.id = r.formula_id
    JOIN library_member m ON m.library_id = o.library_id AND m.holder_id = $2
    CROSS JOIN LATERAL (
        SELECT k.facts FROM batch_label k WHERE k.batch_id = b.id ORDER BY k.number DESC LIMIT 1) l
    LEFT JOIN batch_decision d ON d.batch_id = b.id AND d.decision = 'recalled'
    WHERE j.id = $1";

async fn found(tx: &mut Tx<'_>, id: JarId) -> Result<Row> {
    let me = tx.actor()?.holder();
    let row: Option<Row> = diesel::sql_query(JAR)
        .bind::<SqlUuid, _>(id.0)
        .bind::<SqlUuid, _>(me.0)
        .get_result(tx.conn())
        .await
        .optional()?;
    row.ok_or(Error::NotFound("jar"))
}

/// Whether the caller reads jars: instructors, and API clients with the scope for it.
///
/// # Errors
/// Returns [`Error::Forbidden`] for everybody else.
pub(crate) fn reads_jars(tx: &Tx<'_>) -> Result<()> {
    tx.require_scope(Scope::JarsRead)?;
    if matches!(tx.actor()?, Actor::Person(_)) {
        tx.instructor()?;
    }
    Ok(())
}

/// A jar, with what is told when it is handed out. For instructors of its library and for its API clients with the scope
/// `jars:read`, who are not told where it went.
///
/// # Errors
/// Returns [`Error::Forbidden`] for everybody else, and [`Error::NotFound`] if no jar of the caller's libraries has this id.
pub async fn jar_sheet(store: &Store, credentials: &Credentials, id: JarId) -> Result<JarSheet> {
    store.read(credentials, async |tx| sheet(tx, id).await).await
}

/// The same of the jar with this code, as it was typed or scanned.
///
/// # Errors
/// As [`jar_sheet`].
pub async fn jar_sheet_of_code(store: &Store, credentials: &Credentials, typed: &str) -> Result<JarSheet> {
    store
        .read(credentials, async |tx| {
            reads_jars(tx)?;
            let id = jar_of_code(tx, typed).await?;
            sheet(tx, id).await
        })
        .await
}

async fn sheet(tx: &mut Tx<'_>, id: JarId) -> Result<JarSheet> {
    reads_jars(tx)?;
    let row = found(tx, id).await?;
    let (_, why) = may(tx, &row).await?;
    let now = sets::current(tx, RevisionId(row.revision_id)).await?;
    let (facts, cautions) = StoredLabel::read(&row.facts)?.into_parts();
    let said = recipes::label::said(tx.reference, &cautions, &now.cautions);
    let told = said.warnings.into_iter().flat_map(|group| group.warnings.into_iter().map(|one| one.text));
    let told = told.chain(said.longest_use).chain(said.patch_test);
    Ok(JarSheet {
        batch: BatchId(row.batch_id),
        batch_number: row.batch_number.clone(),
        title: facts.title,
        disposition: word(&row.disposition)?,
        cautions: told.collect(),
        after_opening: facts.after_opening,
        barred: why,
        jar: shown(tx, &row).await?,
    })
}

/// The last day of a jar, and why it is not handed out.
async fn may(tx: &mut Tx<'_>, row: &Row) -> Result<(Option<NaiveDate>, Option<String>)> {
    let disposition: Disposition = word(&row.disposition)?;
    let day = row.until();
    let rules = policy::rules(tx).await?;
    let today = rules.date(tx.now());
    let recalled = row.recalled_at.map(|at| rules.date(at));
    let beside = Beside { sample: row.sample, empty: row.decanted_into.is_some() };
    let stands = stands((disposition, beside), row.stopped, day, (today, recalled));
    Ok((day, barred(stands)))
}

/// Hands a jar out.
///
/// # Errors
/// As [`jar_sheet`]. Returns [`Error::State`] unless it is released and in date, and for a jar that was handed out before;
/// [`Error::Invalid`] for a reference that is none, and where it was not asked or not told.
pub async fn jar_hand(
    store: &Store,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: JarId,
    request: &NewHanding,
) -> Result<JarSheet> {
    store
        .create(
            credentials,
            once,
            async |tx| {
                tx.instructor()?;
                let batch = found(tx, id).await?.batch_id;
                // Nobody recalls it meanwhile; what was read before is read again.
                lock(tx, Locks::new().batch(BatchId(batch))).await?;
                let row = found(tx, id).await?;
                if let (_, Some(why)) = may(tx, &row).await? {
                    return Err(Error::state(word::<Disposition>(&row.disposition)?, why));
                }
                let reference = acceptable(request)?;
                let today = policy::rules(tx).await?.date(tx.now());
                let handed = tx.new_id();
                let again = |error: diesel::result::Error| match violates(&error, "jar_handed_once") {
                    true => Error::state(
                        "handed",
                        "This jar was handed out before. What came back is not handed out again.",
                    ),
                    false => error.into(),
                };
                diesel::insert_into(jar_handing::table)
                    .values((
                        jar_handing::id.eq(handed),
                        jar_handing::jar_id.eq(id.0),
                        jar_handing::reference.eq(reference),
                        jar_handing::on_day.eq(today),
                        jar_handing::suitability_asked.eq(request.suitability_asked),
                        jar_handing::cautions_told.eq(request.cautions_told),
                        jar_handing::opening_told.eq(request.opening_told),
                        jar_handing::by_id.eq(tx.person()?.id.0),
                        jar_handing::at.eq(tx.now()),
                    ))
                    .execute(tx.conn())
                    .await
                    .map_err(again)?;
                tx.record(NewEvent::new("batch", batch, "jar_handed").keeps(&HANDING, [handed]));
                Ok(id.0)
            },
            async |tx, _| sheet(tx, id).await,
        )
        .await
}

/// Takes a jar back. It is never handed out again, full or not.
///
/// # Errors
/// As [`jar_sheet`]; returns [`Error::State`] for a jar that was not handed out or came back before, and [`Error::Invalid`]
/// for a note that is too long.
pub async fn jar_take_back(
    store: &Store,
    credentials: &Credentials,
    once: &IdempotencyKey,
    id: JarId,
    request: &NewJarReturn,
) -> Result<JarSheet> {
    store
        .create(
            credentials,
            once,
            async |tx| {
                tx.instructor()?;
                let row = found(tx, id).await?;
                lock(tx, Locks::new().batch(BatchId(row.batch_id))).await?;
                let note = request.note.as_deref().map(str::trim).filter(|note| !note.is_empty());
                if note.is_some_and(|note| note.chars().count() > 1000) {
                    return Err(Error::field("/note", "Enter 1 to 1000 characters, or omit the field."));
                }
                let refused = |error: diesel::result::Error| {
                    if violates(&error, "jar_return_pkey") {
                        return Error::state("returned", "This jar came back before.");
                    }
                    if violates(&error, "jar_return_jar_id_fkey") {
                        return Error::state("kept", "This jar was not handed out.");
                    }
                    error.into()
                };
                diesel::insert_into(jar_return::table)
                    .values((
                        jar_return::jar_id.eq(id.0),
                        jar_return::note.eq(note),
                        jar_return::by_id.eq(tx.person()?.id.0),
                        jar_return::at.eq(tx.now()),
                    ))
                    .execute(tx.conn())
                    .await
                    .map_err(refused)?;
                tx.record(NewEvent::new("batch", row.batch_id, "jar_returned").keeps(&RETURN, [id.0]));
                Ok(id.0)
            },
            async |tx, _| sheet(tx, id).await,
        )
        .await
}

/// The reference, as it is kept.
fn acceptable(request: &NewHanding) -> Result<String> {
    let mut errors = Vec::new();
    let reference = request.reference.trim().to_uppercase();
    if !is_reference(&reference) {
        errors.push(FieldError::new(
            "/reference",
            "Enter the clinic's own reference, such as C-1042: 3 to 24 letters, digits, dashes and strokes, with a digit in \
             it. Never a name.",
        ));
    }
    for (field, done, cure) in [
        (
            "/suitability_asked",
            request.suitability_asked,
            "Ask whether it suits, and for whom it is not, before you hand it out.",
        ),
        ("/cautions_told", request.cautions_told, "Tell the cautions of the label before you hand it out."),
        (
            "/opening_told",
            request.opening_told,
            "Tell how long it keeps once it was opened before you hand it out.",
        ),
    ] {
        if !done {
            errors.push(FieldError::new(field, cure));
        }
    }
    if errors.is_empty() { Ok(reference) } else { Err(Error::Invalid(errors)) }
}

/// The database holds the same (`jar_handing_reference`).
fn is_reference(text: &str) -> bool {
    let plain = |letter: char| letter.is_ascii_uppercase() || letter.is_ascii_digit();
    (3..=24).contains(&text.len())
        && text.starts_with(plain)
        && text.chars().all(|letter| plain(letter) || matches!(letter, '/' | '-'))
        && text.contains(|letter: char| letter.is_ascii_digit())
}

async fn shown(tx: &mut Tx<'_>, row: &Row) -> Result<Jar> {
    let mut handed = match tx.actor()? {
        Actor::Person(_) => handed(tx, &[row.id]).await?,
        Actor::Client { .. } => Vec::new(),
    };
    Ok(Jar {
        id: JarId(row.id),
        number: row.number.unsigned_abs(),
        page: format!("/jars/{}", row.token),
        code: row.token.clone(),
        fill: row.fill.clone(),
        use_by: row.until(),
        sample: row.sample,
        decanted_from: row.decanted_from.map(i32::unsigned_abs),
        decanted_into: row.decanted_into.iter().flatten().map(|number| number.unsigned_abs()).collect(),
        handed: handed.pop().map(|(_, handed)| handed),
    })
}

#[derive(QueryableByName)]
struct HandedRow {
    #[diesel(sql_type = SqlUuid)]
    jar_id: Uuid,
    #[diesel(sql_type = Text)]
    reference: String,
    #[diesel(sql_type = Date)]
    on_day: NaiveDate,
    #[diesel(sql_type = SqlUuid)]
    by_id: Uuid,
    #[diesel(sql_type = Timestamptz)]
    at: DateTime<Utc>,
    #[diesel(sql_type = Nullable<Text>)]
    note: Option<String>,
    #[diesel(sql_type = Nullable<SqlUuid>)]
    back_by: Option<Uuid>,
    #[diesel(sql_type = Nullable<Timestamptz>)]
    back_at: Option<DateTime<Utc>>,
}

/// Where jars went, of those that were handed out.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn handed(tx: &mut Tx<'_>, jars: &[Uuid]) -> Result<Vec<(Uuid, JarHanded)>> {
    let rows: Vec<HandedRow> = diesel::sql_query(
        "SELECT h.jar_id, h.reference, h.on_day, h.by_id, h.at, b.note, b.by_id AS back_by, b.at AS back_at
         FROM jar_handing h LEFT JOIN jar_return b ON b.jar_id = h.jar_id WHERE h.jar_id = ANY ($1)",
    )
    .bind::<diesel::sql_types::Array<SqlUuid>, _>(jars)
    .load(tx.conn())
    .await?;
    let names =
        known_as::people(tx, rows.iter().flat_map(|row| [Some(row.by_id), row.back_by]).flatten()).await?;
    Ok(rows.into_iter().map(|row| (row.jar_id, told(row, &names))).collect())
}

fn told(row: HandedRow, names: &Names) -> JarHanded {
    let back = row.back_by.zip(row.back_at);
    JarHanded {
        reference: row.reference,
        on: row.on_day,
        by: PersonId(row.by_id),
        by_name: names.of(row.by_id),
        at: row.at,
        returned: back.map(|(by, at)| JarReturned {
            note: row.note,
            by: PersonId(by),
            by_name: names.of(by),
            at,
        }),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_is_no_reference() {
        for reference in ["C-1042", "26/0031", "A12", "123"] {
            assert!(is_reference(reference), "{reference}");
        }
        for other in
            ["", "C1", "NOOR HADDAD", "HADDAD", "c-1042", "-1042", "C-1042, N.H.", "Ä12", &"1".repeat(25)]
        {
            assert!(!is_reference(other), "{other}");
        }
    }
}
