//! Adding a photograph to a record, and withdrawing one.
//!
//! Its files are on disk before its row is written; files without a row are swept.

use diesel_async::RunQueryDsl;
use photographs::{Developed, Drawn};
use release::{ForRules, Record};
use schema::{batch_photograph, photograph_withdrawal};
use serde_json::json;
use store::{Credentials, Error, IdempotencyKey, NewEvent, Result, Store, Tx, violates, word};
use uuid::Uuid;
use wire::bench::BatchState;
use wire::ids::{BatchId, PhotographId};
use wire::photographs::{NewPhotographQuery, Photograph, WithdrawPhotograph};

use crate::batches;
use crate::kept::{PHOTOGRAPH, PHOTOGRAPH_WITHDRAWAL};
use crate::photographed::{self, Row, Withdrawn, may_withdraw, one, takes_photographs, told};

/// The most photographs of a batch, withdrawn ones too. CHECK `batch_photograph_bounded`.
const MOST: usize = 100;

/// A photograph whose files are kept.
#[derive(Clone, Copy, Debug)]
pub struct New<'p> {
    /// Its id, which names its files.
    pub id: Uuid,
    /// What was drawn of it.
    pub developed: &'p Developed,
    /// What it shows, and the entry that it belongs to.
    pub request: &'p NewPhotographQuery,
}

/// Refuses whoever may add no photograph to the record.
///
/// # Errors
/// As [`batch`](crate::batch()), and [`Error::Forbidden`] if the caller is not the maker.
pub async fn photograph_may_come(store: &Store, credentials: &Credentials, batch: BatchId) -> Result<()> {
    store.read(credentials, async |tx| batches::access(tx, batch, false).await?.require_maker()).await
}

/// Adds a photograph whose files are kept.
///
/// # Errors
/// As [`batch`](crate::batch()). Returns [`Error::Forbidden`] if the caller is not the maker, [`Error::State`] if the record is
/// not being written, [`Error::Conflict`] for one more than a hundred, and [`Error::Invalid`] for an entry that is not there.
pub async fn photograph_keep(
    store: &Store,
    credentials: &Credentials,
    once: &IdempotencyKey,
    batch: BatchId,
    new: New<'_>,
) -> Result<Photograph> {
    store
        .create(
            credentials,
            once,
            async |tx| {
                let record = batches::own(tx, batch).await?;
                let entry = entry_of(tx, &record, new.request).await?;
                insert(tx, &record, &new, entry).await
            },
            async |tx, id| shown(tx, batch, id).await,
        )
        .await
}

async fn shown(tx: &mut Tx<'_>, batch: BatchId, id: Uuid) -> Result<Photograph> {
    let record = batches::access_unnamed(tx, batch, false).await?;
    let all = told(tx, &record).await?.photographs;
    all.into_iter().find(|one| one.id.0 == id).ok_or(Error::NotFound("photograph"))
}

/// The entry that a photograph belongs to, of a record that takes it.
async fn entry_of<'t>(
    tx: &mut Tx<'t>,
    record: &Record<'t>,
    request: &NewPhotographQuery,
) -> Result<Option<Uuid>> {
    let state: BatchState = word(&record.row().state)?;
    if !takes_photographs(state) {
        return Err(Error::state(
            state,
            "This record takes no photographs. Photographs are taken while a batch is planned, making or returned.",
        ));
    }
    let Some(number) = request.entry else { return Ok(None) };
    let contents = batches::contents(tx, record).await?;
    let entry = contents.content().entries.iter().find(|entry| entry.shown.number == number);
    match entry {
        Some(entry) => Ok(Some(entry.shown.id.0)),
        None => Err(Error::field(
            "?entry",
            "This record has no entry with this number. Send the number of an entry, or omit the parameter.",
        )),
    }
}

async fn insert<'t>(
    tx: &mut Tx<'t>,
    record: &Record<'t>,
    new: &New<'_>,
    entry: Option<Uuid>,
) -> Result<Uuid> {
    let before = photographed::rows(tx, record).await?.len();
    if before >= MOST {
        return Err(Error::Conflict(format!(
            "This record has {MOST} photographs, which is the most. Write what you see as an entry instead."
        )));
    }
    let (picture, preview) = (new.developed.picture(), new.developed.preview());
    let row = Row {
        id: new.id,
        batch_id: record.batch().0,
        number: whole(before)? + 1,
        subject: new.request.subject.as_str().to_owned(),
        entry_id: entry,
        width: whole(picture.width())?,
        height: whole(picture.height())?,
        bytes: length(picture)?,
        sha256: picture.sha256().to_vec(),
        preview_width: whole(preview.width())?,
        preview_height: whole(preview.height())?,
        preview_bytes: length(preview)?,
        preview_sha256: preview.sha256().to_vec(),
        after_submission: record.row().last_submission,
        by_id: tx.person()?.id.0,
        at: tx.now(),
    };
    diesel::insert_into(batch_photograph::table).values(&row).execute(tx.conn()).await?;
    let event = NewEvent::new("batch", row.batch_id, "photographed")
        .detail(json!({ "photograph": row.id, "sha256": hex::encode(&row.sha256) }))
        .keeps(&PHOTOGRAPH, [row.id]);
    tx.record(event);
    Ok(row.id)
}

fn length(drawn: &Drawn) -> Result<i32> {
    whole(drawn.bytes().len())
}

fn whole(number: impl TryInto<i32>) -> Result<i32> {
    number.try_into().map_err(|_| Error::internal("a picture that is too large to be counted"))
}

/// Withdraws a photograph. Its row stays, and says by whom and why; its files are the caller's to remove.
///
/// # Errors
/// As [`batch`](crate::batch()). Returns [`Error::NotFound`] if the batch has no such photograph, [`Error::Forbidden`] if the
/// caller is neither its maker nor an instructor, [`Error::State`] if it was withdrawn before, or handed in by its maker, and
/// [`Error::Invalid`] for a missing reason.
pub async fn photograph_withdraw(
    store: &Store,
    credentials: &Credentials,
    once: &IdempotencyKey,
    (batch, id): (BatchId, PhotographId),
    request: &WithdrawPhotograph,
) -> Result<Photograph> {
    let reason = request.reason.trim();
    if !(1..=1000).contains(&reason.chars().count()) {
        return Err(Error::field("/reason", "Enter why it is withdrawn, in 1 to 1000 characters."));
    }
    store
        .create(
            credentials,
            once,
            async |tx| {
                let record = batches::access_unnamed(tx, batch, true).await?;
                let (row, before) = one(tx, &record, id).await?;
                if before.is_some() {
                    return Err(Error::state("withdrawn", "This photograph was withdrawn before."));
                }
                if !may_withdraw(tx, &record, &row)? {
                    return Err(refused(&record));
                }
                let withdrawn = Withdrawn {
                    photograph_id: row.id,
                    batch_id: row.batch_id,
                    reason: reason.to_owned(),
                    by_id: tx.person()?.id.0,
                    at: tx.now(),
                };
                diesel::insert_into(photograph_withdrawal::table)
                    .values(&withdrawn)
                    .execute(tx.conn())
                    .await
                    .map_err(|error| match violates(&error, "handed_photograph_stays") {
                        true => handed_in(),
                        false => error.into(),
                    })?;
                let event = NewEvent::new("batch", row.batch_id, "photograph_withdrawn")
                    .detail(json!({ "photograph": row.id }))
                    .keeps(&PHOTOGRAPH_WITHDRAWAL, [row.id]);
                tx.record(event);
                Ok(row.id)
            },
            async |tx, id| shown(tx, batch, id).await,
        )
        .await
}

fn handed_in() -> Error {
    let detail = "This photograph was handed in with the record. Ask an instructor to withdraw it.";
    Error::state("submitted", detail)
}

fn refused(record: &Record<'_>) -> Error {
    match record.is_makers() {
        true => handed_in(),
        false => Error::Forbidden("Only its maker or an instructor may withdraw a photograph.".into()),
    }
}
