//! A grant, kept by the function that opened the transaction in which it was proved.

use release::{Grant, grants};
use store::{Credentials, Result, Store};
use wire::ids::RevisionId;

async fn escape(store: &Store, credentials: &Credentials, id: RevisionId) -> Result<()> {
    let mut kept: Option<Grant<'_>> = None;
    store
        .read(credentials, async |tx| {
            kept = grants::find(tx, id).await?;
            Ok(())
        })
        .await?;
    drop(kept);
    Ok(())
}

fn main() {}
