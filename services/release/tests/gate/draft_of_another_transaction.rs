//! The proof of an own draft, used in a transaction of another caller.

use release::{Draft, content};
use store::{Result, Tx};

async fn mixed<'a, 'b>(tx: &mut Tx<'a>, draft: &Draft<'b>) -> Result<()> {
    content::draft_content::<serde_json::Value>(tx, draft).await.map(drop)
}

fn main() {}
