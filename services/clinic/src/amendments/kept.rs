//! What the journal vouches for of amendments.

use store::columns;
use store::journal::{Belonging, Kept, Key};

/// Amendments with the materials that they touched.
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

/// All of them.
pub(crate) static KEPT: &[&Kept] = &[&AMENDMENT];
