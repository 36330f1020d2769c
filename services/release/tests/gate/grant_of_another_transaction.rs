//! A grant, used in a transaction of another caller.

use release::{content, grants};
use store::{Credentials, Error, Result, Store};
use wire::ids::RevisionId;

async fn mixed(store: &Store, mine: &Credentials, other: &Credentials, id: RevisionId) -> Result<()> {
    store
        .read(mine, async |tx| {
            let grant = grants::find(tx, id).await?.ok_or(Error::NotFound("revision"))?;
            store.read(other, async |theirs| content::comments(theirs, &grant).await.map(drop)).await
        })
        .await
}

fn main() {}
