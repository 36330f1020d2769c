//! A grant, kept by the function that opened the transaction in which it was proved.

use release::{Grant, grants};
use store::{Claim, Result, Store};
use wire::ids::RevisionId;

async fn escape(store: &Store, claim: &Claim, id: RevisionId) -> Result<()> {
    let mut kept: Option<Grant<'_>> = None;
    store
        .read(claim, async |tx| {
            kept = grants::find(tx, id).await?;
            Ok(())
        })
        .await?;
    drop(kept);
    Ok(())
}

fn main() {}
