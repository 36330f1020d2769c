//! Rows of batches that the journal vouches for.

use store::journal::Column::{Bytes, Text, Time};
use store::journal::{Kept, Key};

/// Batches, with their state and the number of entries and submissions.
pub static BATCH: Kept = Kept {
    table: "batch",
    key: &[Key("id", "uuid")],
    columns: &[
        Text("id"),
        Text("number"),
        Text("revision_id"),
        Bytes("revision_digest"),
        Bytes("caution_digest"),
        Text("policy_version"),
        Text("maker_id"),
        Text("state"),
        Text("disposition"),
        Text("version"),
        Time("opened_at"),
        Text("last_entry"),
        Text("last_submission"),
    ],
    belonging: &[],
    only: "true",
};

/// Every kind of row of this crate.
pub static KEPT: &[&Kept] = &[&BATCH];
