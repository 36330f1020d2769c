//! Writing into a batch record, and reading the whole of it under proof.

use std::collections::HashMap;

use chrono::{DateTime, Utc};
use diesel::dsl::{count_star, exists, not, sql, sum};
use diesel::prelude::*;
use diesel::sql_types::{Bool, Nullable, Numeric, Uuid as SqlUuid};
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use rust_decimal::Decimal;
use schema::{BatchRow, batch};
use serde::{Serialize, de::DeserializeOwned};
use serde_json::json;
use store::journal::prove_row;
use store::{Error, Instructor, NewEvent, Prepare, Result, Tx, in_order, violates, word};
use uuid::Uuid;
use wire::bench::{NewEntry, NewReview, Review, ReviewComment};
use wire::ids::{BatchId, EntryId, PersonId, ReviewId};

use crate::gated::{batch_entry, batch_recipe, review, review_comment, submission};
use crate::kept::{ENTRY, RECIPE, REVIEW, SUBMISSION};
use crate::record::Record;
use crate::released::{ForRules, Released};
use crate::sealed::Sealed;

/// An entry as it is shown, and what was measured as exact decimals, so that no number is read back from text.
pub struct Entry {
    /// As it is shown, but for figures of what was measured.
    pub shown: wire::bench::Entry,
    /// What was measured.
    pub measured: Measured,
}

/// A submission. `F` is what was found in the record, as its owner stores it.
pub struct Submission<F> {
    /// Its number within the record.
    pub number: u32,
    /// When.
    pub at: DateTime<Utc>,
    /// The maker's answer to earlier comments.
    pub answer: Option<String>,
    /// What was found.
    pub findings: F,
    /// The review that followed.
    pub review: Option<Review>,
}

/// Everything that stands in a record. `R` is the recipe and `F` are the findings, as their owners store them.
pub struct Contents<R, F> {
    /// What the batch asked for.
    pub recipe: R,
    /// What was written, in order, corrected entries too.
    pub entries: Vec<Entry>,
    /// What was handed in, each with the review that followed.
    pub submissions: Vec<Submission<F>>,
}

/// Everything that stands in a record, for whoever may read it.
///
/// # Errors
/// [`Error::Internal`] when the recipe is not the one that the batch was opened with.
pub async fn contents<'t, R: DeserializeOwned, F: DeserializeOwned>(
    tx: &mut Tx<'t>,
    record: &Record<'t>,
) -> Result<Released<Contents<R, F>>> {
    let id = record.batch();
    let contents = Contents {
        recipe: recipe(tx, record.row()).await?,
        entries: entries(tx, id, None).await?,
        submissions: submissions(tx, id).await?,
    };
    Ok(Released::new(contents, None))
}

/// What a batch asked for, sealed: whoever may read its record opens it.
///
/// # Errors
/// [`Error::Internal`] when the recipe is not the one that the batch was opened with.
pub async fn asked<'t, R: DeserializeOwned>(tx: &mut Tx<'t>, record: &Record<'t>) -> Result<Sealed<R>> {
    Ok(Sealed::new(*record.digest(), recipe(tx, record.row()).await?))
}

/// Keeps the recipe that a batch is opened with, as released to its maker. `opened`, the event of it, vouches for it.
///
/// # Errors
/// [`Error::Internal`] when the batch is not the caller's, or a grant to make its revision did not open the recipe. When
/// the batch has one already.
pub async fn keep_recipe(
    tx: &mut Tx<'_>,
    id: BatchId,
    recipe: &Released<impl Serialize>,
    opened: NewEvent,
) -> Result<()> {
    let (maker, digest): (Uuid, Vec<u8>) =
        batch::table.find(id.0).select((batch::maker_id, batch::revision_digest)).first(tx.conn()).await?;
    let text = to_make(tx, (maker, &digest), recipe)?;
    diesel::insert_into(batch_recipe::table)
        .values((batch_recipe::batch_id.eq(id.0), batch_recipe::recipe.eq(text)))
        .execute(tx.conn())
        .await?;
    tx.record(opened.keeps(&RECIPE, [id.0]));
    Ok(())
}

/// The text of a recipe of this digest that was released to this maker, who is calling, to make it.
fn to_make(tx: &Tx<'_>, (maker, of): (Uuid, &[u8]), recipe: &Released<impl Serialize>) -> Result<String> {
    if maker != tx.person()?.id.0 || recipe.to_make().is_none_or(|released| released[..] != *of) {
        return Err(Error::internal("a batch was to hold a recipe that its maker may not make"));
    }
    Ok(serde_json::to_string(recipe.content())?)
}

/// The recipe of a batch, as it was opened with or as it was adjusted since, proved against the journal before anybody relies on it.
async fn recipe<R: DeserializeOwned>(tx: &mut Tx<'_>, of: &BatchRow) -> Result<R> {
    let text: Option<String> = if let Some(entry) = of.adjusted_by {
        prove_row(tx, &ENTRY, [entry]).await?;
        batch_entry::table.find(entry).select(batch_entry::recipe).first(tx.conn()).await?
    } else {
        prove_row(tx, &RECIPE, [of.id]).await?;
        let opened = batch_recipe::table.find(of.id).select(batch_recipe::recipe.nullable());
        opened.first(tx.conn()).await?
    };
    Ok(serde_json::from_str(&text.ok_or_else(|| Error::internal("an adjustment without its recipe"))?)?)
}

#[derive(Insertable, Queryable, Selectable)]
#[diesel(table_name = batch_entry, check_for_backend(diesel::pg::Pg), treat_none_as_default_value = false)]
struct EntryRow {
    id: Uuid,
    number: i32,
    kind: String,
    line: Option<String>,
    step: Option<i32>,
    quantity: Option<String>,
    #[diesel(embed)]
    measured: Measured,
    lot: Option<String>,
    lot_expires: Option<String>,
    assay: Option<String>,
    price: Option<String>,
    note: Option<String>,
    corrects_id: Option<Uuid>,
    reason: Option<String>,
    deviation: Option<String>,
    recipe: Option<String>,
    by_id: Uuid,
    at: DateTime<Utc>,
    before_acknowledged: bool,
}

/// Entries of a batch in order, corrected ones too: all, or one.
async fn entries(tx: &mut Tx<'_>, id: BatchId, one: Option<Uuid>) -> Result<Vec<Entry>> {
    let correction = diesel::alias!(batch_entry as correction);
    let mut rows = batch_entry::table
        .left_join(correction.on(correction.field(batch_entry::corrects_id).eq(batch_entry::id.nullable())))
        .filter(batch_entry::batch_id.eq(id.0))
        .order(batch_entry::number)
        .select((EntryRow::as_select(), correction.field(batch_entry::id).nullable()))
        .into_boxed();
    if let Some(one) = one {
        rows = rows.filter(batch_entry::id.eq(one));
    }
    let rows: Vec<(EntryRow, Option<Uuid>)> = rows.load(tx.conn()).await?;
    rows.into_iter().map(|(row, corrected_by)| row.entry(corrected_by)).collect()
}

/// Every entry of a record in order, corrected ones too.
///
/// # Errors
/// When the database does not answer.
pub async fn all<'t>(tx: &mut Tx<'t>, record: &Record<'t>) -> Result<Released<Vec<Entry>>> {
    Ok(Released::new(entries(tx, record.batch(), None).await?, None))
}

/// What was measured at a line or step, by the entries that were not corrected.
#[derive(Clone, Copy, Debug, Default, Queryable)]
pub struct Place {
    /// How many entries there are.
    pub count: i64,
    /// The sum of their masses, in grams.
    pub grams: Option<Decimal>,
    /// The lowest temperature, in degrees Celsius.
    pub coldest: Option<Decimal>,
    /// The highest temperature, in degrees Celsius.
    pub hottest: Option<Decimal>,
}

/// An entry, and what was measured at its line or step by entries of its kind.
pub struct Written {
    /// The entry.
    pub entry: Entry,
    /// What was measured there.
    pub place: Place,
}

/// An entry with what was measured at its line or step. Cost: two rows answered, the batch's entries looked over.
///
/// # Errors
/// [`Error::NotFound`] when the record has no such entry.
pub async fn written<'t>(tx: &mut Tx<'t>, record: &Record<'t>, id: Uuid) -> Result<Released<Written>> {
    let entry = entries(tx, record.batch(), Some(id)).await?.pop().ok_or(Error::NotFound("entry"))?;
    let (shown, step) = (&entry.shown, entry.shown.step.and_then(|step| i32::try_from(step).ok()));
    let at = (shown.kind.as_str(), shown.line.as_deref(), step);
    Ok(Released::new(Written { place: place(tx.conn(), record.batch(), at).await?, entry }, None))
}

/// What was measured by entries of a kind at a line and a step.
async fn place(
    mut conn: &AsyncPgConnection,
    batch: BatchId,
    (kind, line, step): (&str, Option<&str>, Option<i32>),
) -> Result<Place> {
    let correction = diesel::alias!(batch_entry as correction);
    let corrects = correction.field(batch_entry::corrects_id);
    let found = batch_entry::table
        .filter(sql::<Bool>("batch_entry.batch_id = (SELECT ").bind::<SqlUuid, _>(batch.0).sql(")"))
        .filter(batch_entry::kind.eq(kind))
        .filter(batch_entry::line.is_not_distinct_from(line))
        .filter(batch_entry::step.is_not_distinct_from(step))
        .filter(not(exists(correction.filter(corrects.eq(batch_entry::id.nullable())))))
        .select((
            count_star(),
            sum(batch_entry::grams),
            sql::<Nullable<Numeric>>("min(batch_entry.celsius)"),
            sql::<Nullable<Numeric>>("max(batch_entry.celsius)"),
        ))
        .prepared()
        .get_result(&mut conn);
    Ok(found.await?)
}

impl EntryRow {
    fn entry(self, corrected_by: Option<Uuid>) -> Result<Entry> {
        let shown = wire::bench::Entry {
            id: EntryId(self.id),
            number: self.number.unsigned_abs(),
            kind: word(&self.kind)?,
            line: self.line,
            step: self.step.map(i32::unsigned_abs),
            quantity: self.quantity,
            // Whoever shows the entry makes figures of what was measured, and adds names and the lot drawn.
            grams: None,
            converted_by: None,
            celsius: None,
            ph: None,
            water_activity: None,
            lot: self.lot,
            lot_id: None,
            lot_expires: self.lot_expires,
            assay: self.assay,
            price: self.price,
            note: self.note,
            corrects: self.corrects_id.map(EntryId),
            reason: self.reason,
            deviation: self.deviation,
            authorised: None,
            corrected_by: corrected_by.map(EntryId),
            by: PersonId(self.by_id),
            by_name: None,
            at: self.at,
            mark: self
                .before_acknowledged
                .then(|| "before the change of cautions was acknowledged".to_owned()),
        };
        Ok(Entry { shown, measured: self.measured })
    }
}

/// Every submission of a batch with the review that followed.
async fn submissions<F: DeserializeOwned>(tx: &mut Tx<'_>, id: BatchId) -> Result<Vec<Submission<F>>> {
    let rows: Vec<(i32, DateTime<Utc>, Option<String>, String)> = submission::table
        .filter(submission::batch_id.eq(id.0))
        .order(submission::number)
        .select((submission::number, submission::at, submission::answer, submission::findings))
        .load(tx.conn())
        .await?;
    let mut reviews = reviews(tx, id).await?;
    rows.into_iter()
        .map(|(number, at, answer, findings)| {
            let (findings, review) = (serde_json::from_str(&findings)?, reviews.remove(&number));
            Ok(Submission { number: number.unsigned_abs(), at, answer, findings, review })
        })
        .collect()
}

#[derive(Queryable, Selectable)]
#[diesel(table_name = review, check_for_backend(diesel::pg::Pg))]
struct ReviewRow {
    id: Uuid,
    submission_number: i32,
    reviewer_id: Uuid,
    verdict: String,
    summary: String,
    own_review: bool,
    at: DateTime<Utc>,
}

async fn reviews(tx: &mut Tx<'_>, id: BatchId) -> Result<HashMap<i32, Review>> {
    let rows: Vec<ReviewRow> = review::table
        .filter(review::batch_id.eq(id.0))
        .select(ReviewRow::as_select())
        .load(tx.conn())
        .await?;
    let ids: Vec<Uuid> = rows.iter().map(|row| row.id).collect();
    let comments: Vec<(Uuid, Option<Uuid>, String)> = review_comment::table
        .filter(review_comment::review_id.eq_any(&ids))
        .order((review_comment::review_id, review_comment::position))
        .select((review_comment::review_id, review_comment::entry_id, review_comment::text))
        .load(tx.conn())
        .await?;
    rows.into_iter()
        .map(|row| {
            let review = Review {
                id: ReviewId(row.id),
                reviewer: PersonId(row.reviewer_id),
                reviewer_name: None,
                verdict: word(&row.verdict)?,
                summary: row.summary,
                comments: comments
                    .iter()
                    .filter(|(of, ..)| *of == row.id)
                    .map(|(_, entry, text)| ReviewComment { entry: entry.map(EntryId), text: text.clone() })
                    .collect(),
                at: row.at,
                note: row.own_review.then(|| "reviewed by its maker".to_owned()),
            };
            Ok((row.submission_number, review))
        })
        .collect()
}

/// What was measured, as it is kept beside what was typed.
#[derive(Clone, Copy, Debug, Default, Insertable, Queryable, Selectable)]
#[diesel(table_name = batch_entry, check_for_backend(diesel::pg::Pg), treat_none_as_default_value = false)]
pub struct Measured {
    /// A mass in grams.
    pub grams: Option<Decimal>,
    /// A temperature in degrees Celsius.
    pub celsius: Option<Decimal>,
    /// A pH.
    pub ph: Option<Decimal>,
    /// A water activity.
    pub water_activity: Option<Decimal>,
    /// A number of labels.
    pub labels: Option<i32>,
}

/// Writes an adjustment of a batch with the recipe that it brings, as released to its maker. `event` vouches for both.
///
/// # Errors
/// As [`entry_insert`], and [`Error::Internal`] when a grant to make the batch's revision did not open the recipe.
pub async fn adjustment_insert<'t>(
    tx: &mut Tx<'t>,
    record: &Record<'t>,
    request: &NewEntry,
    (grams, recipe): (Decimal, &Released<impl Serialize>),
    event: NewEvent,
) -> Result<Released<Written>> {
    let text = to_make(tx, (record.row().maker_id, record.digest()), recipe)?;
    let weighed = Measured { grams: Some(grams), ..Measured::default() };
    insert(tx, record, request, (&weighed, Some(text)), false, event).await
}

/// Writes an entry. A correction names an entry of the same record and kind. `event` vouches for the entry.
///
/// # Errors
/// When the caller is not the maker, or the corrected entry is not one of this record and kind or was corrected before.
pub async fn entry_insert<'t>(
    tx: &mut Tx<'t>,
    record: &Record<'t>,
    request: &NewEntry,
    measured: &Measured,
    before_acknowledged: bool,
    event: NewEvent,
) -> Result<Released<Written>> {
    insert(tx, record, request, (measured, None), before_acknowledged, event).await
}

async fn insert<'t>(
    tx: &mut Tx<'t>,
    record: &Record<'t>,
    request: &NewEntry,
    (measured, recipe): (&Measured, Option<String>),
    before_acknowledged: bool,
    event: NewEvent,
) -> Result<Released<Written>> {
    record.require_maker()?;
    let corrected = match request.corrects {
        None => None,
        Some(corrects) => Some(corrected(tx, record, corrects.0, request).await?),
    };
    let batch = record.batch();
    let trimmed = |text: &Option<String>| text.as_deref().map(|text| text.trim().to_owned());
    let row = EntryRow {
        id: tx.new_id(),
        number: record.row().last_entry + 1,
        kind: request.kind.as_str().to_owned(),
        // As the recipe names it, whatever spaces were typed around it.
        line: trimmed(&request.line),
        step: request.step.map(i32::from),
        quantity: request.quantity.clone(),
        measured: *measured,
        lot: request.lot.clone(),
        lot_expires: trimmed(&request.lot_expires),
        assay: trimmed(&request.assay),
        price: trimmed(&request.price),
        note: request.note.clone(),
        corrects_id: corrected,
        reason: request.reason.clone(),
        deviation: trimmed(&request.deviation),
        recipe,
        by_id: tx.person()?.id.0,
        at: tx.now(),
        before_acknowledged,
    };
    let counted = diesel::update(batch::table.find(batch.0))
        .set((batch::last_entry.eq(row.number), batch::version.eq(batch::version + 1)))
        .prepared();
    let new =
        diesel::insert_into(batch_entry::table).values((batch_entry::batch_id.eq(batch.0), &row)).prepared();
    // Sent at once and run one after the other, so that the last one sees the entry.
    let conn: &AsyncPgConnection = tx.conn();
    let counted = async { Ok(counted.execute(&mut &*conn).await?) };
    let new = async {
        let twice = "This entry was corrected before. Correct the correction instead.";
        new.execute(&mut &*conn).await.map_err(|error| {
            match violates(&error, "batch_entry_corrects_id_key") {
                true => Error::Conflict(twice.into()),
                false => error.into(),
            }
        })
    };
    let place = place(conn, batch, (row.kind.as_str(), row.line.as_deref(), row.step));
    let (_, (_, place)) = in_order(counted, in_order(new, place)).await?;
    tx.record(event.detail(json!({ "entry": row.id, "corrects": corrected })).keeps(&ENTRY, [row.id]));
    Ok(Released::new(Written { entry: row.entry(None)?, place }, None))
}

/// The corrected entry must be of this batch and of the same kind: a correction says what it should have said.
async fn corrected(tx: &mut Tx<'_>, record: &Record<'_>, corrects: Uuid, request: &NewEntry) -> Result<Uuid> {
    let kind: Option<String> = batch_entry::table
        .filter(batch_entry::id.eq(corrects))
        .filter(batch_entry::batch_id.eq(record.batch().0))
        .select(batch_entry::kind)
        .first(tx.conn())
        .await
        .optional()?;
    match kind {
        None => Err(Error::field("/corrects", "This batch record has no entry with this ID.")),
        Some(kind) if kind != request.kind.as_str() => Err(Error::field(
            "/kind",
            format!("The corrected entry is of the kind {kind}. Send a correction of the same kind."),
        )),
        Some(_) => Ok(corrects),
    }
}

/// Keeps what is handed in, with what was found in it. `submitted` is the event of it, which vouches for it.
///
/// # Errors
/// When the caller is not the maker.
pub async fn submission_insert<'t>(
    tx: &mut Tx<'t>,
    record: &Record<'t>,
    answer: Option<&str>,
    findings: &Released<impl Serialize>,
    submitted: NewEvent,
) -> Result<i32> {
    record.require_maker()?;
    let batch = record.batch();
    let number = record.row().last_submission + 1;
    diesel::update(batch::table.find(batch.0))
        .set(batch::last_submission.eq(number))
        .execute(tx.conn())
        .await?;
    diesel::insert_into(submission::table)
        .values((
            submission::batch_id.eq(batch.0),
            submission::number.eq(number),
            submission::answer.eq(answer),
            submission::findings.eq(serde_json::to_string(findings.content())?),
            submission::last_entry.eq(record.row().last_entry),
            submission::at.eq(tx.now()),
        ))
        .execute(tx.conn())
        .await?;
    let key = [batch.0.to_string(), number.to_string()];
    tx.record(submitted.detail(json!({ "submission": number.to_string() })).keeps(&SUBMISSION, key));
    Ok(number)
}

/// Keeps a review of the last submission with its comments. `decided` is the event of it, which vouches for it.
///
/// # Errors
/// When the database does not answer.
pub async fn review_insert<'t>(
    tx: &mut Tx<'t>,
    record: &Record<'t>,
    by: Instructor<'t>,
    request: &NewReview,
    decided: NewEvent,
) -> Result<ReviewId> {
    let id = tx.new_id();
    let row = record.row();
    diesel::insert_into(review::table)
        .values((
            review::id.eq(id),
            review::batch_id.eq(row.id),
            review::submission_number.eq(row.last_submission),
            review::maker_id.eq(row.maker_id),
            review::reviewer_id.eq(by.id().0),
            review::verdict.eq(request.verdict.as_str()),
            review::summary.eq(request.summary.trim()),
            review::own_review.eq(record.is_made_by_caller()),
            review::at.eq(tx.now()),
        ))
        .execute(tx.conn())
        .await?;
    let comments: Vec<_> = (1_i16..)
        .zip(&request.comments)
        .map(|(position, comment)| {
            (
                review_comment::review_id.eq(id),
                review_comment::position.eq(position),
                review_comment::entry_id.eq(comment.entry.map(|entry| entry.0)),
                review_comment::text.eq(comment.text.trim()),
            )
        })
        .collect();
    if !comments.is_empty() {
        diesel::insert_into(review_comment::table).values(comments).execute(tx.conn()).await?;
    }
    let mut detail = json!({ "review": id });
    if record.is_made_by_caller() {
        detail["note"] = json!("reviewed by its maker");
    }
    tx.record(decided.detail(detail).keeps(&REVIEW, [id]));
    Ok(ReviewId(id))
}
