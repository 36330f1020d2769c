//! Who shares a library.

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use schema::{library, library_member};
use store::{Error, Result, Tx};
use uuid::Uuid;
use wire::ids::LibraryId;

/// Proof that the caller is a member of a library, good for the transaction it was made in.
#[derive(Clone, Copy, Debug)]
pub struct LibraryMember {
    /// The library.
    pub library: LibraryId,
}

/// Proves that the caller is a member of the library; to others it does not exist.
///
/// # Errors
/// [`Error::NotFound`] for everybody else.
pub async fn membership(tx: &mut Tx<'_>, id: LibraryId) -> Result<LibraryMember> {
    let me = tx.actor()?.holder();
    let found: Option<Uuid> = library_member::table
        .find((id.0, me.0))
        .select(library_member::library_id)
        .first(tx.conn())
        .await
        .optional()?;
    match found {
        Some(_) => Ok(LibraryMember { library: id }),
        None => Err(Error::NotFound("library")),
    }
}

/// Proves that the caller is a member, and holds the library's memberships as they are until this transaction ends:
/// whoever ends one waits, and then deletes the grant that was created meanwhile.
///
/// # Errors
/// As [`membership`].
pub async fn lock_membership(tx: &mut Tx<'_>, id: LibraryId) -> Result<LibraryMember> {
    let _held: Option<Uuid> =
        library::table.find(id.0).select(library::id).for_share().first(tx.conn()).await.optional()?;
    membership(tx, id).await
}
