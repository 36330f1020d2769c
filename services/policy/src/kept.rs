//! Rows of the policy that the journal vouches for.

use store::columns;
use store::journal::{Kept, Key};

/// Versions of the policy.
pub static POLICY: Kept = Kept::whole(
    "policy",
    &[Key("version", "integer")],
    columns!(
        Text(version clinic_name notice time_zone currency customary second_person acknowledgement_days
        tolerance_percent active_tolerance_percent countersign_audiences dating_sets_off drops_per_ml
        created_by reason) Time(created_at)
    ),
);

/// Every kind of row of this crate.
pub static KEPT: &[&Kept] = &[&POLICY];
