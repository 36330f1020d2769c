//! A batch on paper: the sheet to take to the bench, and the finished record for the file.
//!
//! Both are set from the record as it is written for its reader, so that they hold what the reader may see and nothing
//! besides.

use clinic::Result;
use serde::Serialize;
use serde_json::{Value, json};
use sha2::{Digest, Sha256};

use crate::document::pdf;
use crate::unprintable::Unprintable;

const SHEET: &str = concat!(include_str!("../templates/common.typ"), include_str!("../templates/sheet.typ"));
const RECORD: &str =
    concat!(include_str!("../templates/common.typ"), include_str!("../templates/record.typ"));

/// A record as it was written for a reader, with the digest over exactly these bytes.
pub(crate) struct Written {
    record: Value,
    sha256: String,
}

impl Written {
    /// # Errors
    /// Returns [`clinic::Error::Internal`] if the record cannot be written as JSON.
    pub(crate) fn of(record: &impl Serialize) -> Result<Self> {
        let bytes = serde_json::to_vec(record)?;
        let sha256 = Sha256::digest(&bytes).iter().map(|byte| format!("{byte:02x}")).collect();
        Ok(Self { record: serde_json::from_slice(&bytes)?, sha256 })
    }

    fn data(self, clinic: &str, foot: &str) -> Value {
        let marks: Vec<&str> = match self.record.get("disposition").and_then(Value::as_str) {
            Some("practice_only") => vec!["Practice only. Do not give out."],
            Some("recalled") => vec!["Recalled. Do not give out."],
            Some("discarded") => vec!["Discarded. Do not give out."],
            _ => Vec::new(),
        };
        json!({ "record": self.record, "sha256": self.sha256, "clinic": clinic, "foot": foot, "marks": marks })
    }
}

/// The sheet to take to the bench: what to weigh and do, with room to write.
pub(crate) fn sheet(record: Written, clinic: &str) -> std::result::Result<Vec<u8>, Unprintable> {
    pdf(SHEET, &record.data(clinic, "sheet for the bench"))
}

/// The record for the file: everything that is written in it, with its digests and how they are verified.
pub(crate) fn record(record: Written, clinic: &str) -> std::result::Result<Vec<u8>, Unprintable> {
    let foot = format!("record, SHA-256 {}", record.sha256);
    pdf(RECORD, &record.data(clinic, &foot))
}
