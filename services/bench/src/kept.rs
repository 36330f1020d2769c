//! What the journal vouches for of batches.

use store::columns;
use store::journal::{Kept, Key};

/// Batches: their state, and how many entries and submissions there are.
pub static BATCH: Kept = Kept::whole(
    "batch",
    &[Key("id", "uuid")],
    columns!(
        Text(id number revision_id policy_version maker_id state disposition version last_entry
        last_submission) Bytes(revision_digest caution_digest) Time(opened_at)
    ),
);

/// All of them.
pub static KEPT: &[&Kept] = &[&BATCH];
