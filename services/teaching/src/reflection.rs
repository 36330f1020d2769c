//! The draft of a reflection, kept as the student goes. Only its author reads it; what is handed in is part of the
//! submission of the batch record, behind the gate.

use chrono::{DateTime, Utc};
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use locks::{Locks, Mode, lock};
use schema::reflection_draft;
use store::{Credentials, Error, Result, Store, Tx, Versioned};
use uuid::Uuid;
use wire::ids::AssignmentId;
use wire::teaching::{NewReflection, Reflection};

use crate::{seat, work};

/// The most characters: as many as the submission of a batch record takes.
const MOST: usize = 4000;

/// The caller's draft; empty, in version 0, before anything was saved.
///
/// # Errors
/// Returns [`Error::NotFound`] unless the caller is a member of the cohort, and [`Error::Forbidden`] unless a student.
pub async fn reflection(
    store: &Store,
    credentials: &Credentials,
    id: AssignmentId,
) -> Result<Versioned<Reflection>> {
    store
        .read(credentials, async |tx| {
            work::student_of(tx, id).await?;
            let me = tx.person()?.id;
            match work::found(tx, id, me).await? {
                Some(work) => draft(tx, work).await,
                None => Ok(empty()),
            }
        })
        .await
}

const fn empty() -> Versioned<Reflection> {
    Versioned { version: 0, value: Reflection { text: String::new(), saved_at: None } }
}

/// The draft of a work.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn draft(tx: &mut Tx<'_>, work: Uuid) -> Result<Versioned<Reflection>> {
    let row: Option<(String, i64, DateTime<Utc>)> = reflection_draft::table
        .find(work)
        .select((reflection_draft::text, reflection_draft::version, reflection_draft::saved_at))
        .first(tx.conn())
        .await
        .optional()?;
    let shown = |(text, version, at)| Versioned { version, value: Reflection { text, saved_at: Some(at) } };
    Ok(row.map_or_else(empty, shown))
}

/// Saves the caller's draft.
///
/// # Errors
/// As [`reflection`]; returns [`Error::State`] before the student has begun the questions,
/// [`Error::PreconditionFailed`] if `version` is not the current one, and [`Error::Invalid`] for a text that is too long.
pub async fn reflection_save(
    store: &Store,
    credentials: &Credentials,
    id: AssignmentId,
    version: i64,
    request: &NewReflection,
) -> Result<Versioned<Reflection>> {
    store
        .write(credentials, async |tx| {
            let (cohort, _) = seat::of_assignment(tx, id).await?;
            lock(tx, Locks::new().cohort(cohort, Mode::Shared).assignment(id, Mode::Shared)).await?;
            let row = work::student_of(tx, id).await?;
            if request.text.chars().count() > MOST {
                return Err(Error::field("/text", format!("Enter at most {MOST} characters.")));
            }
            let work = work::begun(tx, &row).await?;
            lock(tx, Locks::new().work(work)).await?;
            if draft(tx, work).await?.version != version {
                return Err(Error::PreconditionFailed);
            }
            put(tx, work, version, &request.text).await?;
            draft(tx, work).await
        })
        .await
}

/// Writes the draft of a work that the caller holds.
///
/// # Errors
/// Returns the errors of the database.
pub(crate) async fn put(tx: &mut Tx<'_>, work: Uuid, version: i64, text: &str) -> Result<()> {
    let now = tx.now();
    let written = (
        reflection_draft::text.eq(text),
        reflection_draft::version.eq(version + 1),
        reflection_draft::saved_at.eq(now),
    );
    diesel::insert_into(reflection_draft::table)
        .values((reflection_draft::work_id.eq(work), written))
        .on_conflict(reflection_draft::work_id)
        .do_update()
        .set(written)
        .execute(tx.conn())
        .await?;
    Ok(())
}
