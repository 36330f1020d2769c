//! A grant, answered by the transaction in which it was proved.

use release::grants;
use store::{Claim, Result, Store};
use wire::ids::RevisionId;

async fn escape(store: &Store, claim: &Claim, id: RevisionId) -> Result<()> {
    let _grant = store.read(claim, async |tx| grants::find(tx, id).await).await?;
    Ok(())
}

fn main() {}
