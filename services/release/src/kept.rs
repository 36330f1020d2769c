//! What the journal vouches for of the rows behind the gate and of what opens it.

use store::journal::Column::{Bytes, Text, Time};
use store::journal::{Belonging, Kept, Key};

/// Acknowledgements.
pub static ACKNOWLEDGEMENT: Kept = Kept {
    table: "acknowledgement",
    key: &[Key("id", "uuid")],
    columns: &[
        Text("id"),
        Text("holder_id"),
        Text("given_by"),
        Text("revision_id"),
        Bytes("revision_digest"),
        Text("set_number"),
        Bytes("caution_digest"),
        Text("contraindications"),
        Text("language"),
        Text("purpose"),
        Time("at"),
        Time("valid_until"),
        Text("meant_for"),
        Text("countersign"),
    ],
    belonging: &[],
    only: "true",
};

/// Countersignatures.
pub static COUNTERSIGNATURE: Kept = Kept {
    table: "countersignature",
    key: &[Key("acknowledgement_id", "uuid")],
    columns: &[Text("acknowledgement_id"), Text("by_id"), Time("at")],
    belonging: &[],
    only: "true",
};

/// Grants: they come and go, each time with an event.
pub static GRANT: Kept = Kept {
    table: "release_grant",
    key: &[Key("holder_id", "uuid"), Key("revision_id", "uuid")],
    columns: &[
        Text("holder_id"),
        Text("revision_id"),
        Bytes("digest"),
        Bytes("caution_digest"),
        Text("purpose"),
        Text("acknowledgement_id"),
        Time("valid_until"),
        Text("pulled"),
        Text("set_number"),
    ],
    belonging: &[],
    only: "true",
};

/// First readings.
pub static PULL: Kept = Kept {
    table: "recipe_pull",
    key: &[Key("acknowledgement_id", "uuid")],
    columns: &[Text("acknowledgement_id"), Time("at")],
    belonging: &[],
    only: "true",
};

/// Content that is frozen. A draft's may still change.
pub static CONTENT: Kept = Kept {
    table: "revision_content",
    key: &[Key("revision_id", "uuid")],
    columns: &[Text("revision_id"), Text("content"), Text("form"), Bytes("salt"), Text("evaluation")],
    belonging: &[],
    only: "t.salt IS NOT NULL",
};

/// Comments given with decisions.
pub static COMMENT: Kept = Kept {
    table: "revision_comment",
    key: &[Key("id", "uuid")],
    columns: &[Text("id"), Text("revision_id"), Text("by_id"), Text("decision"), Text("comment"), Time("at")],
    belonging: &[],
    only: "true",
};

/// Recipes that batches were opened with.
pub static RECIPE: Kept = Kept {
    table: "batch_recipe",
    key: &[Key("batch_id", "uuid")],
    columns: &[Text("batch_id"), Text("recipe")],
    belonging: &[],
    only: "true",
};

/// What was written at the bench.
pub static ENTRY: Kept = Kept {
    table: "batch_entry",
    key: &[Key("id", "uuid")],
    columns: &[
        Text("id"),
        Text("batch_id"),
        Text("number"),
        Text("kind"),
        Text("line"),
        Text("step"),
        Text("quantity"),
        Text("grams"),
        Text("celsius"),
        Text("ph"),
        Text("lot"),
        Text("lot_expires"),
        Text("assay"),
        Text("price"),
        Text("note"),
        Text("corrects_id"),
        Text("reason"),
        Text("by_id"),
        Time("at"),
        Text("before_acknowledged"),
    ],
    belonging: &[],
    only: "true",
};

/// Submissions with what was found.
pub static SUBMISSION: Kept = Kept {
    table: "submission",
    key: &[Key("batch_id", "uuid"), Key("number", "integer")],
    columns: &[
        Text("batch_id"),
        Text("number"),
        Text("answer"),
        Text("findings"),
        Text("last_entry"),
        Time("at"),
    ],
    belonging: &[],
    only: "true",
};

/// Reviews with their comments.
pub static REVIEW: Kept = Kept {
    table: "review",
    key: &[Key("id", "uuid")],
    columns: &[
        Text("id"),
        Text("batch_id"),
        Text("submission_number"),
        Text("maker_id"),
        Text("reviewer_id"),
        Text("verdict"),
        Text("summary"),
        Text("own_review"),
        Time("at"),
    ],
    belonging: &[Belonging {
        table: "review_comment",
        on: &[("review_id", "id")],
        order: &["position"],
        columns: &[Text("position"), Text("entry_id"), Text("text")],
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
    &COMMENT,
    &RECIPE,
    &ENTRY,
    &SUBMISSION,
    &REVIEW,
];
