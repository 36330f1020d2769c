//! What has passed a door.

use std::sync::Arc;

use serde::{Serialize, Serializer};
use serde_json::value::RawValue;

use canonical::{self, Sha};

/// Content from behind the gate that has passed one of its doors. It can be sent, and nothing else: there is no way
/// to make one outside this module, and none to copy, print, read back or take apart one outside this crate.
///
/// ```compile_fail
/// fn copies<T>(released: &clinic::safety::Released<T>) -> clinic::safety::Released<T> {
///     released.clone()
/// }
/// ```
pub struct Released<T>(T);

impl<T> Released<T> {
    /// Only the gate releases.
    pub(super) const fn new(content: T) -> Self {
        Self(content)
    }

    /// For the clinic's own rules, which work on what was released to the caller they act for.
    pub(crate) const fn content(&self) -> &T {
        &self.0
    }
}

impl<T: Serialize> Serialize for Released<T> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        self.0.serialize(serializer)
    }
}

/// A recipe that has passed a door, as the bytes to be sent.
pub type ReleasedRecipe = Released<Rendered>;

/// A rendered recipe with the digest of its bytes. Cheap to hand on: a recipe that is asked for again and again is
/// rendered once.
pub struct Rendered {
    json: Arc<RawValue>,
    tag: Sha,
}

impl Rendered {
    pub(super) fn new(content: &impl Serialize) -> serde_json::Result<Self> {
        let json = serde_json::value::to_raw_value(content)?;
        let tag = canonical::digest([json.get().as_bytes()]);
        Ok(Self { json: json.into(), tag })
    }

    pub(super) fn again(&self) -> Self {
        Self { json: Arc::clone(&self.json), tag: self.tag }
    }
}

impl Serialize for Rendered {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        self.json.serialize(serializer)
    }
}

impl ReleasedRecipe {
    /// Names these very bytes, for conditional requests.
    #[must_use]
    pub const fn tag(&self) -> &Sha {
        &self.0.tag
    }
}
