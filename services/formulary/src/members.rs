//! Membership of libraries.

use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use schema::library_member;
use store::{Error, Result, Tx};
use uuid::Uuid;
use wire::ids::LibraryId;

/// Proof that the caller is a member of a library, valid within the transaction that made it.
#[derive(Clone, Copy, Debug)]
pub struct LibraryMember {
    /// The library.
    pub library: LibraryId,
}

/// Proves that the caller is a member of a library.
///
/// # Errors
/// Returns [`Error::NotFound`] if there is no such library or the caller is not a member.
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
