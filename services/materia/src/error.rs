//! Why a data file is refused. Every refusal names the file, the row, the field and the cure.

use std::fmt;

/// A data file that was refused, and what would make it acceptable.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{file}{place}: {problem}. {cure}", place = Place(self.line, self.field.as_deref()))]
pub struct Error {
    /// The file, by its name within the data folder.
    pub file: String,
    /// The line within the file, counted from 1 with the heading as line 1; absent where the whole file is meant.
    pub line: Option<u64>,
    /// The column heading.
    pub field: Option<String>,
    /// What is wrong.
    pub problem: String,
    /// What to write instead.
    pub cure: String,
}

struct Place<'e>(Option<u64>, Option<&'e str>);

impl fmt::Display for Place<'_> {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        if let Some(line) = self.0 {
            write!(out, ", line {line}")?;
        }
        if let Some(field) = self.1 {
            write!(out, ", field {field:?}")?;
        }
        Ok(())
    }
}

/// A word that is not one of those a list accepts.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{found:?} is not known; write one of: {accepted}")]
pub struct UnknownWord {
    /// What was written.
    pub found: String,
    /// The accepted words, separated by commas.
    pub accepted: String,
}
