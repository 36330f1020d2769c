//! Where a fact comes from and how far it may be trusted.

use crate::words::words;
use serde::{Deserialize, Serialize};

words! {
    /// How far a fact has been checked.
    ///
    /// A limit that is neither `Verified` nor `Secondary` may never be shown as if it were the law.
    pub enum Status {
        /// Read in the original that is named.
        Verified = "verified",
        /// Read in a copy, quotation or paraphrase that names the original.
        Secondary = "secondary",
        /// Remembered, not looked up; may be shown as such, is never a check.
        FromMemory = "from_memory",
        /// The ordinary way of the trade, for which no source exists.
        CommonPractice = "common_practice",
    }
}

words! {
    /// What the date of a source says.
    pub enum DateIs {
        /// The source was published or came into force then.
        Published = "published",
        /// The source bears no date; it was read then.
        Read = "read",
        /// There is no source; the row was written then.
        Written = "written",
    }
}

/// The source of one fact, as shown to the reader.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub struct Source {
    /// Title, and the place within it (page, entry, table) where there is one.
    pub text: String,
    /// Year, year and month, or day: `2024`, `2024-05`, `2024-05-13`.
    pub date: String,
    /// What that date says.
    pub date_is: DateIs,
}
