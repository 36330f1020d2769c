//! Rows of libraries, formulas, revisions and caution sets that the journal vouches for.

use store::columns;
use store::journal::{Belonging, Kept, Key};

/// Libraries.
pub static LIBRARY: Kept = Kept::whole(
    "library",
    &[Key("id", "uuid")],
    columns!(Text(id name description version created_by) Time(created_at)),
);

/// Memberships. Each addition and each removal records an event.
pub static MEMBER: Kept = Kept::whole(
    "library_member",
    &[Key("library_id", "uuid"), Key("holder_id", "uuid")],
    columns!(Text(library_id holder_id added_by) Time(added_at)),
);

/// Formulas.
pub static FORMULA: Kept = Kept::whole(
    "formula",
    &[Key("id", "uuid")],
    columns!(
        Text(id library_id title preparation approved_revision_id last_number created_by)
        Time(created_at)
    ),
);

/// Revisions, with their open part and the index of their ingredients.
pub static REVISION: Kept = Kept {
    table: "revision",
    key: &[Key("id", "uuid")],
    columns: columns!(
        Text(id formula_id number state title preparation route regime version author_id decided_by
        own_approval) Bytes(digest) Time(created_at proposed_at decided_at)
    ),
    belonging: &[
        Belonging {
            table: "revision_ingredient",
            on: &[("revision_id", "id")],
            order: &["phase", "line"],
            columns: columns!(
                Text(phase line phase_name name function material_id material_version
                nested_revision_id)
            ),
        },
        Belonging {
            table: "revision_material",
            on: &[("revision_id", "id")],
            order: &["material_id"],
            columns: columns!(Text(material_id)),
        },
        Belonging {
            table: "revision_nested",
            on: &[("revision_id", "id")],
            order: &["nested_id"],
            columns: columns!(Text(nested_id)),
        },
    ],
    only: "true",
};

/// Caution sets with their cautions.
pub static CAUTION_SET: Kept = Kept {
    table: "caution_set",
    key: &[Key("revision_id", "uuid"), Key("number", "integer")],
    columns: columns!(
        Text(revision_id number evaluation_form) Bytes(digest evaluation_digest) Time(created_at)
    ),
    belonging: &[Belonging {
        table: "caution",
        on: &[("revision_id", "revision_id"), ("set_number", "number")],
        order: &["position"],
        columns: columns!(
            Text(position key rule text_version level language text source status audiences origins
            changed)
        ),
    }],
    only: "true",
};

/// How caution sets are read.
pub static CAUTION_READING: Kept = Kept::whole(
    "caution_reading",
    &[Key("revision_id", "uuid"), Key("set_number", "integer")],
    columns!(Text(revision_id set_number reading)),
);

/// Digests of values for caution sets that are older than such digests.
pub static OLDER_EVALUATION: Kept = Kept::whole(
    "older_evaluation",
    &[Key("revision_id", "uuid"), Key("set_number", "integer")],
    columns!(Text(revision_id set_number) Bytes(digest)),
);

/// The current caution set of each revision.
pub static GATE: Kept = Kept::whole(
    "gate",
    &[Key("revision_id", "uuid")],
    columns!(Text(revision_id set_number) Bytes(caution_digest)),
);

/// Withholdings. Each start and each end records an event.
pub static WITHHOLDING: Kept = Kept::whole(
    "withholding",
    &[Key("revision_id", "uuid")],
    columns!(Text(revision_id amendment_id) Time(since)),
);

/// Effects of amendments on revisions.
pub static EFFECT: Kept = Kept::whole(
    "amendment_effect",
    &[Key("amendment_id", "uuid"), Key("revision_id", "uuid")],
    columns!(
        Text(amendment_id revision_id set_number cautions_changed evaluation_changed withheld)
    ),
);

/// Every kind of row of this crate.
pub static KEPT: &[&Kept] = &[
    &LIBRARY,
    &MEMBER,
    &FORMULA,
    &REVISION,
    &CAUTION_SET,
    &CAUTION_READING,
    &OLDER_EVALUATION,
    &GATE,
    &WITHHOLDING,
    &EFFECT,
];
