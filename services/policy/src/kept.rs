//! Rows of the policy that the journal vouches for.

use store::journal::Column::{Text, Time};
use store::journal::{Kept, Key};

/// Versions of the policy.
pub static POLICY: Kept = Kept {
    table: "policy",
    key: &[Key("version", "integer")],
    columns: &[
        Text("version"),
        Text("clinic_name"),
        Text("notice"),
        Text("time_zone"),
        Text("currency"),
        Text("customary"),
        Text("second_person"),
        Text("acknowledgement_days"),
        Text("tolerance_percent"),
        Text("active_tolerance_percent"),
        Text("countersign_audiences"),
        Text("dating_sets_off"),
        Text("created_by"),
        Time("created_at"),
        Text("reason"),
    ],
    belonging: &[],
    only: "true",
};

/// Every kind of row of this crate.
pub static KEPT: &[&Kept] = &[&POLICY];
