//! What the journal vouches for of the rows behind the gate and of what opens it.

use store::journal::Column::{Bytes, Text, Time};
use store::journal::{Belonging, Column, Kept, Key};

/// A table of which every row is vouched for.
const fn whole(table: &'static str, key: &'static [Key], columns: &'static [Column]) -> Kept {
    Kept { table, key, columns, belonging: &[], only: "true" }
}

/// Acknowledgements.
pub static ACKNOWLEDGEMENT: Kept = whole(
    "acknowledgement",
    &[Key("id", "uuid")],
    &[
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
);

/// Countersignatures.
pub static COUNTERSIGNATURE: Kept = whole(
    "countersignature",
    &[Key("acknowledgement_id", "uuid")],
    &[Text("acknowledgement_id"), Text("by_id"), Time("at")],
);

/// Grants: they come and go, each time with an event.
pub static GRANT: Kept = whole(
    "release_grant",
    &[Key("holder_id", "uuid"), Key("revision_id", "uuid")],
    &[
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
);

/// First readings.
pub static PULL: Kept =
    whole("recipe_pull", &[Key("acknowledgement_id", "uuid")], &[Text("acknowledgement_id"), Time("at")]);

/// Content that is frozen. A draft's may still change.
pub static CONTENT: Kept = Kept {
    table: "revision_content",
    key: &[Key("revision_id", "uuid")],
    columns: &[Text("revision_id"), Text("content"), Text("form"), Bytes("salt"), Text("evaluation")],
    belonging: &[],
    only: "t.salt IS NOT NULL",
};

/// Comments given with decisions.
pub static COMMENT: Kept = whole(
    "revision_comment",
    &[Key("id", "uuid")],
    &[Text("id"), Text("revision_id"), Text("by_id"), Text("decision"), Text("comment"), Time("at")],
);

/// Recipes that batches were opened with.
pub static RECIPE: Kept =
    whole("batch_recipe", &[Key("batch_id", "uuid")], &[Text("batch_id"), Text("recipe")]);

/// What was written at the bench.
pub static ENTRY: Kept = whole(
    "batch_entry",
    &[Key("id", "uuid")],
    &[
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
);

/// Submissions with what was found.
pub static SUBMISSION: Kept = whole(
    "submission",
    &[Key("batch_id", "uuid"), Key("number", "integer")],
    &[Text("batch_id"), Text("number"), Text("answer"), Text("findings"), Text("last_entry"), Time("at")],
);

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
