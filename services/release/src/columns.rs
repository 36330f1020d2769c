//! What lies behind the gate, by table and column: the one list that the canary test, the scan of the sources and the
//! documentation read.

/// A table of which something lies behind the gate.
#[derive(Clone, Copy, Debug)]
pub struct GatedTable {
    /// The table. Only this crate declares it.
    pub name: &'static str,
    /// The columns that lie behind the gate: amounts, method, what is derived from them, and free text about them.
    pub gated: &'static [&'static str],
    /// The columns that may be told to whoever may know of the row.
    pub open: &'static [&'static str],
}

/// A table: its name, what is gated, and after the bar what is open.
macro_rules! gated {
    ($name:ident: $($gated:ident)* | $($open:ident)*) => {
        GatedTable {
            name: stringify!($name),
            gated: &[$(stringify!($gated)),*],
            open: &[$(stringify!($open)),*],
        }
    };
}

/// Every table of which something lies behind the gate. Every column of each is named once.
pub const GATED: &[GatedTable] = &[
    gated!(revision_content: content salt evaluation | revision_id form),
    gated!(revision_result: result | revision_id engine at),
    gated!(revision_comment: comment | id revision_id by_id decision at),
    gated!(batch_recipe: recipe | batch_id),
    gated!(batch_entry: line step quantity grams celsius ph water_activity lot lot_expires assay price note reason
        deviation recipe labels | id batch_id number kind corrects_id by_id at before_acknowledged),
    gated!(submission: answer findings | batch_id number last_entry at),
    gated!(review: summary | id batch_id submission_number maker_id reviewer_id verdict own_review at),
    gated!(review_comment: text | review_id position entry_id),
];
