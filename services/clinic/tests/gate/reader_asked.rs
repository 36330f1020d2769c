//! The lookup of grants, asked past the use case.

use clinic::{Credentials, ReadBatcher};
use wire::ids::RevisionId;

async fn ask(reader: &ReadBatcher, credentials: Credentials, revision: RevisionId) {
    let _ = reader.ask((credentials, revision)).await;
}

fn main() {}
