//! The format of a stored document, as a number in it.

use serde::{Deserialize, Serialize};

/// The format of a stored document. Documents without a number have format 1.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(into = "u8", try_from = "u8")]
pub enum Format {
    /// The JSON of the API at that time, without a number.
    #[default]
    One,
    /// With its number. A recipe has exact decimals beside the rounded values.
    Two,
}

/// A number that names no format.
#[derive(Debug, thiserror::Error)]
#[error("a stored document of the unknown format {0}")]
pub struct UnknownFormat(u8);

impl From<Format> for u8 {
    fn from(format: Format) -> Self {
        match format {
            Format::One => 1,
            Format::Two => 2,
        }
    }
}

impl TryFrom<u8> for Format {
    type Error = UnknownFormat;

    fn try_from(number: u8) -> Result<Self, UnknownFormat> {
        match number {
            1 => Ok(Self::One),
            2 => Ok(Self::Two),
            other => Err(UnknownFormat(other)),
        }
    }
}
