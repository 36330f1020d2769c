//! The lookup of grants, asked past the use case.

use clinic::{Credentials, Reader};
use wire::ids::RevisionId;

async fn ask(reader: &Reader, credentials: Credentials, revision: RevisionId) {
    let _ = reader.grants.ask(&credentials, revision).await;
}

fn main() {}
