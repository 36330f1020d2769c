//! The lookup of grants, asked past the use case.

use clinic::{Claim, ReadBatcher};
use wire::ids::RevisionId;

async fn ask(reader: &ReadBatcher, claim: Claim, revision: RevisionId) {
    let _ = reader.ask((claim, revision)).await;
}

fn main() {}
