//! Rows of materials that the journal vouches for.

use store::journal::Column::{Bytes, Text, Time};
use store::journal::{Belonging, Kept, Key};

/// Materials, with their synonyms.
pub static MATERIAL: Kept = Kept {
    table: "material",
    key: &[Key("id", "uuid")],
    columns: &[
        Text("id"),
        Text("reference_key"),
        Text("name"),
        Text("kind"),
        Text("current_version"),
        Text("merged_into"),
    ],
    belonging: &[Belonging {
        table: "material_synonym",
        on: &[("material_id", "id")],
        order: &["synonym COLLATE \"C\""],
        columns: &[Text("synonym")],
    }],
    only: "true",
};

/// Versions of their facts.
pub static VERSION: Kept = Kept {
    table: "material_version",
    key: &[Key("material_id", "uuid"), Key("version", "integer")],
    columns: &[
        Text("material_id"),
        Text("version"),
        Text("facts"),
        Bytes("digest"),
        Text("reference_version"),
        Text("created_by"),
        Time("created_at"),
    ],
    belonging: &[],
    only: "true",
};

/// Every kind of row of this crate.
pub static KEPT: &[&Kept] = &[&MATERIAL, &VERSION];
