//! What the journal vouches for of batches.

use store::journal::Column::{Bytes, Text, Time};
use store::journal::{Kept, Key};

/// Batches: their state, and how many entries and submissions there are.
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

/// All of them.
pub static KEPT: &[&Kept] = &[&BATCH];
