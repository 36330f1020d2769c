//! Rows of amendments that the journal vouches for.

use store::columns;
use store::journal::{Belonging, Kept, Key};

/// Amendments, with the materials they changed.
pub(crate) static AMENDMENT: Kept = Kept {
    table: "amendment",
    key: &[Key("id", "uuid")],
    columns: columns!(
        Text(id kind state change reason created_by decided_by own_decision) Time(created_at decided_at)
    ),
    belonging: &[Belonging {
        table: "amendment_material",
        on: &[("amendment_id", "id")],
        order: &["material_id"],
        columns: columns!(Text(material_id)),
    }],
    only: "true",
};

/// Every kind of row of this module.
pub(crate) static KEPT: &[&Kept] = &[&AMENDMENT];
