//! A grant, answered by the transaction in which it was proved.

use release::grants;
use store::{Credentials, Result, Store};
use wire::ids::RevisionId;

async fn escape(store: &Store, credentials: &Credentials, id: RevisionId) -> Result<()> {
    let _grant = store.read(credentials, async |tx| grants::find(tx, id).await).await?;
    Ok(())
}

fn main() {}
