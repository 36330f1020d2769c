//! A batch on paper: the sheet to take to the bench, and the finished record for the file.
//!
//! Both are set from what is written for their reader, so that they hold what the reader may see and nothing besides: the sheet
//! from the record, the paper for the file from the record with what stands beside it.

use clinic::Result;
use serde::Serialize;
use serde_json::{Value, json};
use sha2::{Digest, Sha256};

use crate::document::pdf;
use crate::unprintable::Unprintable;

const SHEET: &str = concat!(include_str!("../templates/common.typ"), include_str!("../templates/sheet.typ"));
const RECORD: &str =
    concat!(include_str!("../templates/common.typ"), include_str!("../templates/record.typ"));

/// What was written for a reader, with the digest over exactly these bytes.
pub(crate) struct Written {
    written: Value,
    sha256: String,
}

impl Written {
    /// # Errors
    /// Returns [`clinic::Error::Internal`] if it cannot be written as JSON.
    pub(crate) fn of(written: &impl Serialize) -> Result<Self> {
        let bytes = serde_json::to_vec(written)?;
        let sha256 = Sha256::digest(&bytes).iter().map(|byte| format!("{byte:02x}")).collect();
        Ok(Self { written: serde_json::from_slice(&bytes)?, sha256 })
    }
}

/// What every paper of a batch is set from.
fn data(record: &Value, clinic: &str, foot: &str) -> Value {
    let marks: Vec<&str> = match record.get("disposition").and_then(Value::as_str) {
        Some("practice_only") => vec!["Practice only. Do not give out."],
        Some("recalled") => vec!["Recalled. Do not give out."],
        Some("discarded") => vec!["Discarded. Do not give out."],
        _ => Vec::new(),
    };
    json!({ "record": record, "clinic": clinic, "foot": foot, "marks": marks })
}

/// The sheet to take to the bench: what to weigh and do, with room to write.
pub(crate) fn sheet(record: &Written, clinic: &str) -> std::result::Result<Vec<u8>, Unprintable> {
    pdf(SHEET, &data(&record.written, clinic, "sheet for the bench"))
}

/// The record for the file: everything that is written in it, with its digests and how they are verified.
pub(crate) fn record(filed: &Written, clinic: &str) -> std::result::Result<Vec<u8>, Unprintable> {
    let foot = format!("record, SHA-256 {}", filed.sha256);
    let mut data = data(&filed.written["record"], clinic, &foot);
    data["filed"] = filed.written.clone();
    data["sha256"] = filed.sha256.clone().into();
    pdf(RECORD, &data)
}
