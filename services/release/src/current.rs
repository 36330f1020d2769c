//! The current caution set of a revision, held as it is.

use canonical::Sha;
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use locks::{Locks, Mode, lock};
use schema::gate;
use store::actor::Brand;
use store::{Result, Tx};
use wire::ids::RevisionId;

use crate::sealed::sha;

/// Which caution set of a revision is the current one. Its row stays locked for share until the transaction ends, so
/// that the set cannot change while it is acknowledged.
pub struct CurrentSet<'t> {
    revision: RevisionId,
    number: i32,
    digest: Sha,
    _brand: Brand<'t>,
}

impl CurrentSet<'_> {
    /// The revision.
    pub const fn revision(&self) -> RevisionId {
        self.revision
    }

    /// Its number among the sets of the revision.
    pub const fn number(&self) -> i32 {
        self.number
    }

    /// Its digest.
    pub const fn digest(&self) -> &Sha {
        &self.digest
    }
}

/// Locks which caution set of a revision is the current one.
///
/// # Errors
/// When the revision has none.
pub async fn lock_current_set<'t>(tx: &mut Tx<'t>, id: RevisionId) -> Result<CurrentSet<'t>> {
    lock(tx, Locks::new().gates([id.0], Mode::Shared)).await?;
    let current = gate::table.find(id.0).select((gate::set_number, gate::caution_digest));
    let (number, digest): (i32, Vec<u8>) = current.first(tx.conn()).await?;
    Ok(CurrentSet { revision: id, number, digest: sha(digest)?, _brand: Brand::default() })
}
