//! Rows of libraries, formulas, revisions and caution sets that the journal vouches for.

use store::journal::Column::{Bytes, Text, Time};
use store::journal::{Belonging, Kept, Key};

/// Libraries.
pub static LIBRARY: Kept = Kept {
    table: "library",
    key: &[Key("id", "uuid")],
    columns: &[
        Text("id"),
        Text("name"),
        Text("description"),
        Text("version"),
        Text("created_by"),
        Time("created_at"),
    ],
    belonging: &[],
    only: "true",
};

/// Memberships. Each addition and each removal records an event.
pub static MEMBER: Kept = Kept {
    table: "library_member",
    key: &[Key("library_id", "uuid"), Key("holder_id", "uuid")],
    columns: &[Text("library_id"), Text("holder_id"), Text("added_by"), Time("added_at")],
    belonging: &[],
    only: "true",
};

/// Formulas.
pub static FORMULA: Kept = Kept {
    table: "formula",
    key: &[Key("id", "uuid")],
    columns: &[
        Text("id"),
        Text("library_id"),
        Text("title"),
        Text("preparation"),
        Text("approved_revision_id"),
        Text("last_number"),
        Text("created_by"),
        Time("created_at"),
    ],
    belonging: &[],
    only: "true",
};

/// Revisions, with their open part and the index of their ingredients.
pub static REVISION: Kept = Kept {
    table: "revision",
    key: &[Key("id", "uuid")],
    columns: &[
        Text("id"),
        Text("formula_id"),
        Text("number"),
        Text("state"),
        Text("title"),
        Text("preparation"),
        Text("route"),
        Text("regime"),
        Text("version"),
        Text("author_id"),
        Time("created_at"),
        Time("proposed_at"),
        Bytes("digest"),
        Text("decided_by"),
        Time("decided_at"),
        Text("own_approval"),
    ],
    belonging: &[
        Belonging {
            table: "revision_ingredient",
            on: &[("revision_id", "id")],
            order: &["phase", "line"],
            columns: &[
                Text("phase"),
                Text("line"),
                Text("phase_name"),
                Text("name"),
                Text("function"),
                Text("material_id"),
                Text("material_version"),
                Text("nested_revision_id"),
            ],
        },
        Belonging {
            table: "revision_material",
            on: &[("revision_id", "id")],
            order: &["material_id"],
            columns: &[Text("material_id")],
        },
        Belonging {
            table: "revision_nested",
            on: &[("revision_id", "id")],
            order: &["nested_id"],
            columns: &[Text("nested_id")],
        },
    ],
    only: "true",
};

/// Caution sets with their cautions.
pub static CAUTION_SET: Kept = Kept {
    table: "caution_set",
    key: &[Key("revision_id", "uuid"), Key("number", "integer")],
    columns: &[
        Text("revision_id"),
        Text("number"),
        Bytes("digest"),
        Bytes("evaluation_digest"),
        Time("created_at"),
    ],
    belonging: &[Belonging {
        table: "caution",
        on: &[("revision_id", "revision_id"), ("set_number", "number")],
        order: &["position"],
        columns: &[
            Text("position"),
            Text("key"),
            Text("rule"),
            Text("text_version"),
            Text("level"),
            Text("language"),
            Text("text"),
            Text("source"),
            Text("status"),
            Text("audiences"),
            Text("origins"),
            Text("changed"),
        ],
    }],
    only: "true",
};

/// The current caution set of each revision.
pub static GATE: Kept = Kept {
    table: "gate",
    key: &[Key("revision_id", "uuid")],
    columns: &[Text("revision_id"), Text("set_number"), Bytes("caution_digest")],
    belonging: &[],
    only: "true",
};

/// Withholdings. Each start and each end records an event.
pub static WITHHOLDING: Kept = Kept {
    table: "withholding",
    key: &[Key("revision_id", "uuid")],
    columns: &[Text("revision_id"), Text("amendment_id"), Time("since")],
    belonging: &[],
    only: "true",
};

/// Effects of amendments on revisions.
pub static EFFECT: Kept = Kept {
    table: "amendment_effect",
    key: &[Key("amendment_id", "uuid"), Key("revision_id", "uuid")],
    columns: &[
        Text("amendment_id"),
        Text("revision_id"),
        Text("set_number"),
        Text("cautions_changed"),
        Text("evaluation_changed"),
        Text("withheld"),
    ],
    belonging: &[],
    only: "true",
};

/// Every kind of row of this crate.
pub static KEPT: &[&Kept] =
    &[&LIBRARY, &MEMBER, &FORMULA, &REVISION, &CAUTION_SET, &GATE, &WITHHOLDING, &EFFECT];
