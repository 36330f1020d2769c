//! Why a kept result cannot be read.

use thiserror::Error;

use super::version::FORMAT;
use crate::Text;

/// Why a kept result cannot be written, read or restored.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum KeptProblem {
    /// The format is not one that this engine reads.
    #[error(
        "The kept result has format {0}. This program reads format {FORMAT}. Use the program that wrote it, or a later one."
    )]
    UnknownFormat(u64),
    /// The text is not a kept result. The content is not quoted, because it may be an amount.
    #[error("The text is not a kept result: the error is in line {line}, column {column}.")]
    Unreadable {
        /// The line of the text, counted from 1.
        line: usize,
        /// The column of the line, counted from 1.
        column: usize,
    },
    /// A reference leads nowhere, or to a figure that stands later.
    #[error("The kept result is damaged: it refers to {what} {number}, which it does not contain.")]
    NoSuch {
        /// The kind of entry: source, rule, figure or material.
        what: &'static str,
        /// The number that is referred to.
        number: usize,
    },
    /// A unit that no figure was ever given in.
    #[error("The kept result has the unit \"{0}\", which this program does not know.")]
    UnknownUnit(Text),
    /// It was made from another formula, or from another revision of it.
    #[error("The kept result belongs to another formula or another revision: {0} differs.")]
    NotItsFormula(&'static str),
}
