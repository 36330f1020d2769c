//! What the journal vouches for of the rows behind the gate and of what opens it.

use store::columns;
use store::journal::{Belonging, Kept, Key};

/// Acknowledgements.
pub static ACKNOWLEDGEMENT: Kept = Kept::whole(
    "acknowledgement",
    &[Key("id", "uuid")],
    columns!(
        Text(id holder_id given_by revision_id set_number contraindications language purpose meant_for
        countersign) Bytes(revision_digest caution_digest) Time(at valid_until)
    ),
);

/// Countersignatures.
pub static COUNTERSIGNATURE: Kept = Kept::whole(
    "countersignature",
    &[Key("acknowledgement_id", "uuid")],
    columns!(Text(acknowledgement_id by_id) Time(at)),
);

/// Grants: they come and go, each time with an event.
pub static GRANT: Kept = Kept::whole(
    "release_grant",
    &[Key("holder_id", "uuid"), Key("revision_id", "uuid")],
    columns!(
        Text(holder_id revision_id purpose acknowledgement_id pulled set_number) Bytes(digest
        caution_digest) Time(valid_until)
    ),
);

/// First readings.
pub static PULL: Kept = Kept::whole(
    "recipe_pull",
    &[Key("acknowledgement_id", "uuid")],
    columns!(Text(acknowledgement_id) Time(at)),
);

/// Content that is frozen. A draft's may still change.
pub static CONTENT: Kept = Kept {
    table: "revision_content",
    key: &[Key("revision_id", "uuid")],
    columns: columns!(Text(revision_id content form evaluation) Bytes(salt)),
    belonging: &[],
    only: "t.salt IS NOT NULL",
};

/// What was computed of frozen revisions.
pub static RESULT: Kept = Kept::whole(
    "revision_result",
    &[Key("revision_id", "uuid")],
    columns!(Text(revision_id engine result) Time(at)),
);

/// Comments given with decisions.
pub static COMMENT: Kept = Kept::whole(
    "revision_comment",
    &[Key("id", "uuid")],
    columns!(Text(id revision_id by_id decision comment) Time(at)),
);

/// Recipes that batches were opened with.
pub static RECIPE: Kept =
    Kept::whole("batch_recipe", &[Key("batch_id", "uuid")], columns!(Text(batch_id recipe)));

/// What was written at the bench.
pub static ENTRY: Kept = Kept::whole(
    "batch_entry",
    &[Key("id", "uuid")],
    columns!(
        Text(id batch_id number kind line step quantity grams celsius ph water_activity lot lot_expires assay price
        note corrects_id reason deviation recipe labels by_id before_acknowledged) Time(at)
    ),
);

/// Submissions with what was found.
pub static SUBMISSION: Kept = Kept::whole(
    "submission",
    &[Key("batch_id", "uuid"), Key("number", "integer")],
    columns!(Text(batch_id number answer findings last_entry) Time(at)),
);

/// Reviews with their comments.
pub static REVIEW: Kept = Kept {
    table: "review",
    key: &[Key("id", "uuid")],
    columns: columns!(
        Text(id batch_id submission_number maker_id reviewer_id verdict summary own_review) Time(at)
    ),
    belonging: &[Belonging {
        table: "review_comment",
        on: &[("review_id", "id")],
        order: &["position"],
        columns: columns!(Text(position entry_id text)),
    }],
    only: "true",
};

/// All of them.
pub static KEPT: &[&Kept] = &[
    &ACKNOWLEDGEMENT,
    &COUNTERSIGNATURE,
    &GRANT,
    &PULL,
    &CONTENT,
    &RESULT,
    &COMMENT,
    &RECIPE,
    &ENTRY,
    &SUBMISSION,
    &REVIEW,
];
