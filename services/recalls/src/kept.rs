//! What the journal vouches for of recalls.

use store::columns;
use store::journal::{Belonging, Kept, Key};

/// Recalls, each with what it reached.
pub static RECALL: Kept = Kept {
    table: "recall",
    key: &[Key("id", "uuid")],
    columns: columns!(
        Text(id cause lot_id batch_id formula_id material_id reason state version last_outcome by_id closed_by
        closed_because) Time(at closed_at)
    ),
    belonging: &[Belonging {
        table: "recall_item",
        on: &[("recall_id", "id")],
        order: &["number"],
        columns: columns!(Text(number lot_id batch_id)),
    }],
    only: "true",
};

/// What came of what was recalled.
pub static OUTCOME: Kept = Kept::whole(
    "recall_outcome",
    &[Key("id", "uuid")],
    columns!(Text(id recall_id item number outcome note by_id) Time(at)),
);

/// What came of jars that were recalled.
pub static JAR_OUTCOME: Kept = Kept::whole(
    "recall_jar_outcome",
    &[Key("id", "uuid")],
    columns!(Text(id recall_id item jar_id number outcome note by_id) Time(at)),
);

/// All of them.
pub static KEPT: &[&Kept] = &[&RECALL, &OUTCOME, &JAR_OUTCOME];
