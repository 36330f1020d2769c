//! Why a document cannot be printed.

/// Why a document cannot be printed.
#[derive(Debug)]
pub(crate) enum Unprintable {
    /// A part has no room on the label; the part by its name in the label.
    NoRoom { part: String },
    /// A letter that none of the fonts has; what the typesetter says of it.
    Letters { text: String },
    /// Something of ours went wrong.
    Fault(String),
}
