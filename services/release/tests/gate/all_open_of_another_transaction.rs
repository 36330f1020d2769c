//! Grants for everything that a formula is made from, used in a transaction of another caller.

use release::{AllOpen, content};
use store::{Result, Tx};

async fn mixed<'a, 'b>(tx: &mut Tx<'a>, open: &AllOpen<'b>) -> Result<()> {
    content::nested_released::<serde_json::Value>(tx, open).await.map(drop)
}

fn main() {}
