//! Content by ids that the caller chose.

use store::{Result, Tx};

async fn contents(tx: &mut Tx<'_>, ids: &[uuid::Uuid]) -> Result<()> {
    release::content::rows(tx, ids).await.map(drop)
}

fn main() {}
