//! What the journal vouches for of reactions. Not the words of a report, which can be removed.

use store::columns;
use store::journal::{Kept, Key};

/// Cases.
pub static CASE: Kept = Kept::whole(
    "reaction_case",
    &[Key("id", "uuid")],
    columns!(Text(id number state version joined_id causality conclusion ended_by) Time(opened_at ended_at)),
);

/// Reports.
pub static REPORT: Kept = Kept::whole(
    "reaction_report",
    &[Key("id", "uuid")],
    columns!(Text(id case_id jar_id reference told by_id began_on outcome serious) Bytes(form) Time(at)),
);

/// What was found out.
pub static NOTE: Kept =
    Kept::whole("reaction_note", &[Key("id", "uuid")], columns!(Text(id case_id number text by_id) Time(at)));

/// All of them.
pub static KEPT: &[&Kept] = &[&CASE, &REPORT, &NOTE];
