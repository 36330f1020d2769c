//! The proof of a role, used in a transaction of another caller.

use release::content;
use store::{Instructor, Result, Tx};
use wire::ids::RevisionId;

async fn mixed<'a, 'b>(tx: &mut Tx<'a>, author: Instructor<'b>, id: RevisionId) -> Result<()> {
    content::draft(tx, author, id).await.map(drop)
}

fn main() {}
