//! The proof of a batch record, used in a transaction of another caller.

use release::{Record, entries};
use store::{Result, Tx};

async fn mixed<'a, 'b>(tx: &mut Tx<'a>, record: &Record<'b>) -> Result<()> {
    entries::contents::<(), ()>(tx, record).await.map(drop)
}

fn main() {}
