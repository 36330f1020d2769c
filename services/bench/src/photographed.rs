//! The photographs of a record as they are told, and what their files must be.
//!
//! Whoever reads one proves that they may read the record, as for its entries: a picture of a balance tells an amount. Of a
//! record that is closed to a second marker nothing is told, since a picture may show whose it is.

use chrono::{DateTime, Utc};
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use photographs::{Name, Size};
use release::{ForRules, Record};
use schema::{batch_photograph, photograph_withdrawal};
use serde_json::{Value, json};
use store::{Credentials, Error, Result, Store, Tx, known_as, word};
use uuid::Uuid;
use wire::bench::BatchState;
use wire::ids::{BatchId, PersonId, PhotographId};
use wire::people::Role;
use wire::photographs::{Photograph, PhotographFile, PhotographWithdrawal, Photographs};

use crate::batches;
use crate::nameless::NOBODY;

/// A photograph, as it is stored.
#[derive(Insertable, Queryable, Selectable)]
#[diesel(table_name = batch_photograph, check_for_backend(diesel::pg::Pg), treat_none_as_default_value = false)]
pub(crate) struct Row {
    pub(crate) id: Uuid,
    pub(crate) batch_id: Uuid,
    pub(crate) number: i32,
    pub(crate) subject: String,
    pub(crate) entry_id: Option<Uuid>,
    pub(crate) width: i32,
    pub(crate) height: i32,
    pub(crate) bytes: i32,
    pub(crate) sha256: Vec<u8>,
    pub(crate) preview_width: i32,
    pub(crate) preview_height: i32,
    pub(crate) preview_bytes: i32,
    pub(crate) preview_sha256: Vec<u8>,
    pub(crate) after_submission: i32,
    pub(crate) by_id: Uuid,
    pub(crate) at: DateTime<Utc>,
}

/// The withdrawal of a photograph, as it is stored.
#[derive(Insertable, Queryable, Selectable)]
#[diesel(table_name = photograph_withdrawal, check_for_backend(diesel::pg::Pg))]
pub(crate) struct Withdrawn {
    pub(crate) photograph_id: Uuid,
    pub(crate) batch_id: Uuid,
    pub(crate) reason: String,
    pub(crate) by_id: Uuid,
    pub(crate) at: DateTime<Utc>,
}

/// A file, and what it must be.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Standing {
    /// The file.
    pub name: Name,
    /// Bytes.
    pub length: u64,
    /// SHA-256 of them.
    pub sha256: Vec<u8>,
}

fn standing(row: &Row, size: Size) -> Standing {
    let (length, sha256) = match size {
        Size::Whole => (row.bytes, &row.sha256),
        Size::Preview => (row.preview_bytes, &row.preview_sha256),
    };
    Standing {
        name: Name { id: row.id, size },
        length: u64::from(length.unsigned_abs()),
        sha256: sha256.clone(),
    }
}

/// The photographs of a batch.
///
/// # Errors
/// As [`batch`](crate::batch()).
pub async fn photographs(store: &Store, credentials: &Credentials, id: BatchId) -> Result<Photographs> {
    store
        .read(credentials, async |tx| {
            let record = batches::access_unnamed(tx, id, false).await?;
            told(tx, &record).await
        })
        .await
}

/// What the file of a photograph must be, for whoever may read the record at this moment.
///
/// # Errors
/// As [`batch`](crate::batch()). Returns [`Error::NotFound`] if the batch has no such photograph, and [`Error::Gone`] if it was
/// withdrawn.
pub async fn photograph_file(
    store: &Store,
    credentials: &Credentials,
    (batch, id): (BatchId, PhotographId),
    size: Size,
) -> Result<Standing> {
    store
        .read(credentials, async |tx| {
            let record = batches::access_unnamed(tx, batch, false).await?;
            let (row, withdrawn) = one(tx, &record, id).await?;
            match withdrawn {
                Some(_) => {
                    let detail =
                        "This photograph was withdrawn. The photographs of its batch say by whom and why.";
                    Err(Error::Gone(detail.into()))
                }
                None => Ok(standing(&row, size)),
            }
        })
        .await
}

/// A photograph of a record.
///
/// # Errors
/// Returns [`Error::NotFound`] if the batch has no such photograph.
pub(crate) async fn one<'t>(
    tx: &mut Tx<'t>,
    record: &Record<'t>,
    id: PhotographId,
) -> Result<(Row, Option<Withdrawn>)> {
    let mut all = rows(tx, record).await?;
    let place = all.iter().position(|(row, _)| row.id == id.0).ok_or(Error::NotFound("photograph"))?;
    Ok(all.swap_remove(place))
}

/// The photographs of a record in order, each with its withdrawal.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn rows<'t>(tx: &mut Tx<'t>, record: &Record<'t>) -> Result<Vec<(Row, Option<Withdrawn>)>> {
    let of = record.batch().0;
    let all: Vec<Row> = batch_photograph::table
        .filter(batch_photograph::batch_id.eq(of))
        .order(batch_photograph::number)
        .select(Row::as_select())
        .load(tx.conn())
        .await?;
    if all.is_empty() {
        return Ok(Vec::new());
    }
    let ids: Vec<Uuid> = all.iter().map(|row| row.id).collect();
    let mut withdrawn: Vec<Withdrawn> = photograph_withdrawal::table
        .filter(photograph_withdrawal::photograph_id.eq_any(ids))
        .select(Withdrawn::as_select())
        .load(tx.conn())
        .await?;
    let one = |row: Row| {
        let place = withdrawn.iter().position(|one| one.photograph_id == row.id);
        let withdrawal = place.map(|place| withdrawn.swap_remove(place));
        (row, withdrawal)
    };
    Ok(all.into_iter().map(one).collect())
}

/// Whether a record is being written, so that it takes photographs.
pub(crate) const fn takes_photographs(state: BatchState) -> bool {
    matches!(state, BatchState::Planned | BatchState::Making | BatchState::Returned)
}

/// Whether the caller may withdraw a photograph: an instructor any, who has the batch what was not handed in. Whoever had it
/// before reads it only.
pub(crate) fn may_withdraw(tx: &Tx<'_>, record: &Record<'_>, row: &Row) -> Result<bool> {
    let me = tx.person()?;
    Ok(match (record.is_makers(), record.is_made_by_caller()) {
        (true, _) => record.row().last_submission <= row.after_submission,
        (false, made) => !made && me.role == Role::Instructor,
    })
}

/// The photographs as who reads the record of their batch sees them.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn told<'t>(tx: &mut Tx<'t>, record: &Record<'t>) -> Result<Photographs> {
    let id = record.batch();
    let all = rows(tx, record).await?;
    let people: Vec<Uuid> = all
        .iter()
        .flat_map(|(row, withdrawn)| [Some(row.by_id), withdrawn.as_ref().map(|one| one.by_id)])
        .flatten()
        .collect();
    let names = known_as::people(tx, people).await?;
    // Numbers of entries are read with their entries, only where some photograph belongs to one.
    let entries: Vec<(Uuid, u32)> = match all.iter().any(|(row, _)| row.entry_id.is_some()) {
        true => {
            let contents = batches::contents(tx, record).await?;
            contents.content().entries.iter().map(|entry| (entry.shown.id.0, entry.shown.number)).collect()
        }
        false => Vec::new(),
    };
    let submissions = record.row().last_submission;
    let unnamed = record.candidate().is_some();
    let mut photographs = Vec::with_capacity(all.len());
    for (row, withdrawn) in all {
        let may_withdraw = withdrawn.is_none() && may_withdraw(tx, record, &row)?;
        let address = format!("/v1/batches/{id}/photographs/{}", row.id);
        let file = |address: String, (width, height, bytes): (i32, i32, i32), sha256: &[u8]| PhotographFile {
            address,
            width: width.unsigned_abs(),
            height: height.unsigned_abs(),
            bytes: u64::from(bytes.unsigned_abs()),
            sha256: hex::encode(sha256),
        };
        photographs.push(Photograph {
            id: PhotographId(row.id),
            number: row.number.unsigned_abs(),
            subject: word(&row.subject)?,
            entry: row
                .entry_id
                .and_then(|id| entries.iter().find(|(entry, _)| *entry == id))
                .map(|(_, number)| *number),
            picture: file(address.clone(), (row.width, row.height, row.bytes), &row.sha256),
            preview: file(
                format!("{address}/preview"),
                (row.preview_width, row.preview_height, row.preview_bytes),
                &row.preview_sha256,
            ),
            submission: (submissions > row.after_submission).then(|| row.after_submission.unsigned_abs() + 1),
            withdrawn: withdrawn.map(|one| PhotographWithdrawal {
                reason: one.reason,
                by: if unnamed { NOBODY } else { PersonId(one.by_id) },
                by_name: names.of(one.by_id).filter(|_| !unnamed),
                at: one.at,
            }),
            may_withdraw,
            by: if unnamed { NOBODY } else { PersonId(row.by_id) },
            by_name: names.of(row.by_id).filter(|_| !unnamed),
            at: row.at,
        });
    }
    Ok(Photographs {
        batch: id,
        number: record.candidate().unwrap_or(&record.row().number).to_owned(),
        title: formulary::facts(tx, record.revision()).await?.title,
        may_add: record.is_makers() && takes_photographs(word(&record.row().state)?),
        photographs,
    })
}

/// What a submission froze of photographs. A later withdrawal is none of its own.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn frozen<'t>(tx: &mut Tx<'t>, record: &Record<'t>, submission: i32) -> Result<Vec<Value>> {
    let all = rows(tx, record).await?;
    let frozen = all.iter().filter(|(row, _)| row.after_submission < submission);
    Ok(frozen
        .map(|(row, _)| {
            json!([
                row.id,
                row.number,
                row.subject,
                row.entry_id,
                hex::encode(&row.sha256),
                row.by_id,
                row.at
            ])
        })
        .collect())
}

/// Of these photographs those that stand: their row is there, and they were not withdrawn. For whoever sweeps files.
///
/// # Errors
/// Returns the errors of the database.
pub async fn photographs_standing(store: &Store, ids: &[Uuid]) -> Result<Vec<Uuid>> {
    store
        .run_unauthenticated(async |tx| {
            Ok(batch_photograph::table
                .filter(batch_photograph::id.eq_any(ids.to_vec()))
                .filter(diesel::dsl::not(diesel::dsl::exists(
                    photograph_withdrawal::table
                        .filter(photograph_withdrawal::photograph_id.eq(batch_photograph::id)),
                )))
                .select(batch_photograph::id)
                .load(tx.conn())
                .await?)
        })
        .await
}

/// A page of what stands, for whoever compares files with it.
#[derive(Debug, Default)]
pub struct PhotographPage {
    /// Both files of each photograph.
    pub files: Vec<Standing>,
    /// The last photograph of the page; nothing on an empty one.
    pub last: Option<Uuid>,
}

/// How many photographs a page has.
const PAGE: i64 = 500;

/// What stands, after a photograph.
///
/// # Errors
/// Returns the errors of the database.
pub async fn photographs_of_journal(store: &Store, after: Option<Uuid>) -> Result<PhotographPage> {
    store
        .run_unauthenticated(async |tx| {
            let all: Vec<Row> = batch_photograph::table
                .filter(batch_photograph::id.gt(after.unwrap_or(Uuid::nil())))
                .filter(diesel::dsl::not(diesel::dsl::exists(
                    photograph_withdrawal::table
                        .filter(photograph_withdrawal::photograph_id.eq(batch_photograph::id)),
                )))
                .order(batch_photograph::id)
                .limit(PAGE)
                .select(Row::as_select())
                .load(tx.conn())
                .await?;
            Ok(PhotographPage {
                last: all.last().map(|row| row.id),
                files: all
                    .iter()
                    .flat_map(|row| [standing(row, Size::Whole), standing(row, Size::Preview)])
                    .collect(),
            })
        })
        .await
}
