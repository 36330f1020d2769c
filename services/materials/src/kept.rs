//! Rows of materials that the journal vouches for.

use store::columns;
use store::journal::{Belonging, Kept, Key};

/// Materials, with their synonyms.
pub static MATERIAL: Kept = Kept {
    table: "material",
    key: &[Key("id", "uuid")],
    columns: columns!(Text(id reference_key name kind current_version merged_into)),
    belonging: &[Belonging {
        table: "material_synonym",
        on: &[("material_id", "id")],
        order: &["synonym COLLATE \"C\""],
        columns: columns!(Text(synonym)),
    }],
    only: "true",
};

/// Versions of their facts.
pub static VERSION: Kept = Kept::whole(
    "material_version",
    &[Key("material_id", "uuid"), Key("version", "integer")],
    columns!(
        Text(material_id version facts reference_version created_by) Bytes(digest) Time(created_at)
    ),
);

/// Every kind of row of this crate.
pub static KEPT: &[&Kept] = &[&MATERIAL, &VERSION];
