//! What the journal vouches for of amendments.

use store::journal::Column::{Text, Time};
use store::journal::{Belonging, Kept, Key};

/// Amendments with the materials that they touched.
pub(crate) static AMENDMENT: Kept = Kept {
    table: "amendment",
    key: &[Key("id", "uuid")],
    columns: &[
        Text("id"),
        Text("kind"),
        Text("state"),
        Text("change"),
        Text("reason"),
        Text("created_by"),
        Time("created_at"),
        Text("decided_by"),
        Time("decided_at"),
        Text("own_decision"),
    ],
    belonging: &[Belonging {
        table: "amendment_material",
        on: &[("amendment_id", "id")],
        order: &["material_id"],
        columns: &[Text("material_id")],
    }],
    only: "true",
};

/// All of them.
pub(crate) static KEPT: &[&Kept] = &[&AMENDMENT];
