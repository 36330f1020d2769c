//! Proving that no event, and no row that an event vouches for, was changed, removed or slipped in.
//!
//! Verifying reads one snapshot, in bounded memory, without the time limit of a request. It finds
//! - in the chains: a changed, missing, inserted or reordered event, and a chain that was cut off;
//! - in the rows: a changed row, one that was added or removed without an event, and one that was put back to an earlier
//!   state together with the digest of that time;
//! - in the public order: a gap, an event that has no place or two, and a place without an event;
//! - what the owners of rows check besides, where a digest over a row cannot say it.
//!
//! A journal that was put back as a whole holds in itself: only a signed statement that was kept outside shows it (see
//! [`verify_statement`](super::verify_statement)). What never happens here: a repair.

mod chains;
mod named;
mod rows;
mod verdict;

use std::pin::Pin;

use super::breaks::Breaks;
use super::kept::{Kept, consistent};
use super::order;
use crate::error::{Error, Result};
use crate::store::Store;
use crate::tx::Tx;

pub use verdict::{Older, Verdict};

/// What a [`Check`] is doing: answers how many things it verified.
pub type Checking<'a> = Pin<Box<dyn Future<Output = Result<u64>> + Send + 'a>>;

/// A check that a digest over a row cannot make, such as an older digest recomputed by its own form. It reads in bounded
/// memory and notes each break; an error means that it could not be made.
#[derive(Debug)]
pub struct Check {
    /// What is verified, in the plural: "revision digests".
    pub name: &'static str,
    /// Reads, compares, and notes breaks.
    pub run: for<'a> fn(&'a mut Tx<'_>, &'a mut Breaks) -> Checking<'a>,
}

/// Verifies the whole journal and every row that it vouches for.
///
/// # Errors
/// [`Error::Internal`] when `kept` contradicts itself, and when the database cannot be read. What does not hold is no
/// error but a break in the verdict.
pub async fn verify(store: &Store, kept: &[&'static Kept], checks: &[&'static Check]) -> Result<Verdict> {
    consistent(kept).map_err(|error| Error::Internal(error.into()))?;
    store
        .run_long(async |tx| {
            let mut verdict = Verdict::default();
            chains::verify(tx, &mut verdict).await?;
            rows::verify(tx, kept, &mut verdict).await?;
            named::verify(tx, &mut verdict.breaks).await?;
            verdict.numbered = order::verify(tx, &mut verdict.breaks).await?;
            for check in checks {
                let count = (check.run)(tx, &mut verdict.breaks).await?;
                verdict.checks.insert(check.name, count);
            }
            Ok(verdict)
        })
        .await
}
