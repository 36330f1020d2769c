//! Photographs of batches: their rows are the bench's, their files are kept apart.
//!
//! The right to add one is proved before a file is decoded, and again in the transaction that writes its row. Never here: a
//! file that was written after its row.

use std::fmt;

use ::bench::{New, Standing};
use ::photographs::{Developed, Files, Found, Name, Place, Size};
use store::{Credentials, IdempotencyKey, Result};
use uuid::Uuid;
use wire::ids::{BatchId, PhotographId};
use wire::photographs::{NewPhotographQuery, Photograph, Photographs, WithdrawPhotograph};

use crate::Clinic;

pub use ::photographs::{Bucket, Home, LARGEST, Size as PhotographSize};

/// A place for a photograph that is about to come, which bounds how many are in memory.
#[derive(Debug)]
pub struct Admitted(Place);

/// A photograph that was drawn anew and is not kept yet.
#[derive(Debug)]
pub struct Ready(Developed);

/// How long files may be without a row before they are swept: much longer than a request takes.
const ORPHAN_AFTER: chrono::Duration = chrono::Duration::hours(1);

/// How many photographs are looked up at once.
const AT_ONCE: usize = 1000;

/// A place for a photograph, to be had before its first byte is read.
///
/// # Errors
/// Returns [`Error::FilesUnavailable`](store::Error::FilesUnavailable) while others take up every place.
pub fn admit(clinic: &Clinic) -> Result<Admitted> {
    Ok(Admitted(clinic.darkroom.admit()?))
}

/// Refuses whoever may add no photograph to the record, before anything of it is read. What state the record is in is asked
/// when it is kept, since a repeated request shows what the first one did in any state.
///
/// # Errors
/// As [`bench::photograph_may_come`].
pub async fn may_come(clinic: &Clinic, credentials: &Credentials, batch: BatchId) -> Result<()> {
    ::bench::photograph_may_come(&clinic.store, credentials, batch).await
}

/// Draws what was sent anew.
///
/// # Errors
/// Returns [`Error::Invalid`](store::Error::Invalid), with the cure, for what is no picture that is taken.
pub async fn develop(clinic: &Clinic, admitted: Admitted, bytes: Vec<u8>) -> Result<Ready> {
    Ok(Ready(clinic.darkroom.develop(admitted.0, bytes).await?))
}

/// Keeps a photograph: its files, and then its row.
///
/// # Errors
/// As [`bench::photograph_keep`]. Returns [`Error::FilesUnavailable`](store::Error::FilesUnavailable) if its files could not
/// be kept; then there is no row.
pub async fn keep(
    clinic: &Clinic,
    credentials: &Credentials,
    once: &IdempotencyKey,
    batch: BatchId,
    (ready, request): (&Ready, &NewPhotographQuery),
) -> Result<Photograph> {
    let id = clinic.store.rng.id(clinic.store.clock.now());
    clinic.files.keep(id, &ready.0).await?;
    let new = New { id, developed: &ready.0, request };
    let kept = ::bench::photograph_keep(&clinic.store, credentials, once, batch, new).await;
    // A refusal wrote no row, and a repetition shows the first one. After a fault that is not known: those are swept.
    let without_row = match &kept {
        Ok(kept) => kept.id.0 != id,
        Err(error) => !matches!(
            error,
            store::Error::Unavailable(_) | store::Error::Contended(_) | store::Error::Internal(_)
        ),
    };
    if without_row {
        remove(&clinic.files, id).await;
    }
    kept
}

/// The photographs of a batch.
///
/// # Errors
/// As [`bench::photographs`].
pub async fn of_batch(clinic: &Clinic, credentials: &Credentials, id: BatchId) -> Result<Photographs> {
    ::bench::photographs(&clinic.store, credentials, id).await
}

/// A file of a photograph, for whoever may read the record at this moment.
///
/// # Errors
/// As [`bench::photograph_file`]. Returns [`Error::Gone`](store::Error::Gone) if the file is missing or is not what was kept.
pub async fn file(
    clinic: &Clinic,
    credentials: &Credentials,
    of: (BatchId, PhotographId),
    size: Size,
) -> Result<Vec<u8>> {
    let Standing { name, length, sha256 } =
        ::bench::photograph_file(&clinic.store, credentials, of, size).await?;
    clinic.files.read(name, length, &sha256).await
}

/// Of these photographs those that cannot be shown, since a file of them is missing or has another length. While the place of
/// the files does not answer, nothing is known of them, and none is named.
pub async fn lost(clinic: &Clinic, of: &[Photograph]) -> Vec<PhotographId> {
    let mut lost = Vec::new();
    for one in of.iter().filter(|one| one.withdrawn.is_none()) {
        for (size, file) in [(Size::Whole, &one.picture), (Size::Preview, &one.preview)] {
            match clinic.files.stands(Name { id: one.id.0, size }, file.bytes).await {
                Ok(Found::Kept) => {}
                Ok(Found::Missing | Found::Changed) => lost.push(one.id),
                Err(error) => {
                    tracing::warn!(%error, "files of photographs unavailable");
                    return Vec::new();
                }
            }
        }
    }
    lost.dedup();
    lost
}

/// Withdraws a photograph, and removes its files.
///
/// # Errors
/// As [`bench::photograph_withdraw`].
pub async fn withdraw(
    clinic: &Clinic,
    credentials: &Credentials,
    once: &IdempotencyKey,
    of: (BatchId, PhotographId),
    request: &WithdrawPhotograph,
) -> Result<Photograph> {
    let withdrawn = ::bench::photograph_withdraw(&clinic.store, credentials, once, of, request).await?;
    remove(&clinic.files, withdrawn.id.0).await;
    Ok(withdrawn)
}

/// Removes files that nothing stands for. What cannot be removed now is swept.
async fn remove(files: &Files, id: Uuid) {
    if let Err(error) = files.remove(id).await {
        tracing::warn!(photograph = %id, %error, "files of a photograph could not be removed yet");
    }
}

/// Removes the files of photographs that have no row, or were withdrawn. Answers how many photographs they were of.
///
/// # Errors
/// Returns [`Error::FilesUnavailable`](store::Error::FilesUnavailable), and the errors of the database. What was removed before
/// stays removed.
pub async fn sweep(clinic: &Clinic) -> Result<usize> {
    let before = clinic.store.clock.now() - ORPHAN_AFTER;
    let mut removed = 0;
    for some in clinic.files.before(before).await?.chunks(AT_ONCE) {
        let standing = ::bench::photographs_standing(&clinic.store, some).await?;
        for id in some.iter().filter(|id| !standing.contains(id)) {
            clinic.files.remove(*id).await?;
            removed += 1;
        }
    }
    Ok(removed)
}

/// Whether photographs can be kept and found.
///
/// # Errors
/// Returns [`Error::FilesUnavailable`](store::Error::FilesUnavailable) if not.
pub async fn ready(clinic: &Clinic) -> Result<()> {
    clinic.files.ready().await
}

/// How the files compare with what the journal vouches for.
#[derive(Debug, Default)]
pub struct Verdict {
    checked: usize,
    missing: Vec<String>,
    changed: Vec<String>,
}

impl Verdict {
    /// Whether every file is what was kept.
    #[must_use]
    pub fn holds(&self) -> bool {
        self.missing.is_empty() && self.changed.is_empty()
    }
}

impl fmt::Display for Verdict {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (what, files) in [("is missing", &self.missing), ("was changed", &self.changed)] {
            for file in files {
                writeln!(f, "The file of {file} {what}. Restore it from a backup.")?;
            }
        }
        let faults = self.missing.len() + self.changed.len();
        match faults {
            0 => write!(f, "{} files of photographs were checked. Each is what was kept.", self.checked),
            _ => write!(f, "{} files of photographs were checked. {faults} do not hold.", self.checked),
        }
    }
}

/// Compares every file with its row. That the rows are what they were, `stillroom journal verify` tells.
///
/// # Errors
/// Returns [`Error::FilesUnavailable`](store::Error::FilesUnavailable), and the errors of the database.
pub async fn verify(clinic: &Clinic) -> Result<Verdict> {
    let (mut verdict, mut after) = (Verdict::default(), None);
    loop {
        let page = ::bench::photographs_of_journal(&clinic.store, after).await?;
        for Standing { name, length, sha256 } in &page.files {
            verdict.checked += 1;
            match clinic.files.check(*name, *length, sha256).await? {
                Found::Kept => {}
                Found::Missing => verdict.missing.push(named(*name)),
                Found::Changed => verdict.changed.push(named(*name)),
            }
        }
        match page.last {
            Some(last) => after = Some(last),
            None => return Ok(verdict),
        }
    }
}

fn named(name: Name) -> String {
    match name.size {
        Size::Whole => format!("photograph {}", name.id),
        Size::Preview => format!("the preview of photograph {}", name.id),
    }
}
