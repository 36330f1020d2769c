//! An answer as the bytes to be sent.

use std::sync::Arc;

use canonical::Sha;
use serde::{Serialize, Serializer};
use serde_json::value::RawValue;

use crate::error::Result;

/// An open answer as the bytes to be sent, with the digest of these bytes for conditional requests. Cheap to hand on: what
/// is asked for again and again is rendered once. Never made of what lies behind the gate; that has a type of its own.
#[derive(Clone, Debug)]
pub struct Ready {
    json: Arc<RawValue>,
    tag: Sha,
}

impl Ready {
    /// Renders an answer.
    ///
    /// # Errors
    /// When it cannot be written as JSON.
    pub fn new(answer: &impl Serialize) -> Result<Self> {
        let json = serde_json::value::to_raw_value(answer)?;
        let tag = canonical::digest([json.get().as_bytes()]);
        Ok(Self { json: json.into(), tag })
    }

    /// Names these very bytes.
    #[must_use]
    pub const fn tag(&self) -> &Sha {
        &self.tag
    }
}

impl Serialize for Ready {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        self.json.serialize(serializer)
    }
}
