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

/// Every table of which something lies behind the gate. Every column of each is named once.
pub const GATED: &[GatedTable] = &[
    GatedTable {
        name: "revision_content",
        gated: &["content", "salt", "evaluation"],
        open: &["revision_id", "form"],
    },
    GatedTable { name: "revision_result", gated: &["result"], open: &["revision_id", "engine", "at"] },
    GatedTable {
        name: "revision_comment",
        gated: &["comment"],
        open: &["id", "revision_id", "by_id", "decision", "at"],
    },
    GatedTable { name: "batch_recipe", gated: &["recipe"], open: &["batch_id"] },
    GatedTable {
        name: "batch_entry",
        gated: &[
            "line",
            "step",
            "quantity",
            "grams",
            "celsius",
            "ph",
            "lot",
            "lot_expires",
            "assay",
            "price",
            "note",
            "reason",
        ],
        open: &["id", "batch_id", "number", "kind", "corrects_id", "by_id", "at", "before_acknowledged"],
    },
    GatedTable {
        name: "submission",
        gated: &["answer", "findings"],
        open: &["batch_id", "number", "last_entry", "at"],
    },
    GatedTable {
        name: "review",
        gated: &["summary"],
        open: &[
            "id",
            "batch_id",
            "submission_number",
            "maker_id",
            "reviewer_id",
            "verdict",
            "own_review",
            "at",
        ],
    },
    GatedTable { name: "review_comment", gated: &["text"], open: &["review_id", "position", "entry_id"] },
];
