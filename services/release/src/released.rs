//! What has passed the gate.

use std::sync::Arc;

use canonical::Sha;
use serde::{Serialize, Serializer};
use serde_json::value::RawValue;
use store::Result;

use crate::sealed::Sealed;

/// Content from behind the gate that was released to a reader. It can be sent, and nothing else: nobody outside this
/// crate makes one, and none can be copied, printed, read back or taken apart by whoever only sends it.
///
/// ```compile_fail
/// fn copies<T>(released: &release::Released<T>) -> release::Released<T> {
///     released.clone()
/// }
/// ```
pub struct Released<T>(T);

impl<T> Released<T> {
    /// Only a proof releases: see [`Sealed::open`] and the reads of [`crate::record`] and [`crate::content`].
    pub(crate) const fn new(content: T) -> Self {
        Self(content)
    }
}

impl<T: Serialize> Serialize for Released<T> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        self.0.serialize(serializer)
    }
}

/// What the clinic's own rules may do with what was released to the caller for whom they act: work on it, and make
/// something of it that is released just so. The crates that answer requests do not depend on this one and cannot name
/// the trait, so that to them a [`Released`] stays shut. A test counts who uses it.
pub trait ForRules<T>: Sized {
    /// The content.
    fn content(&self) -> &T;

    /// What is made of the content, released to the same reader.
    fn map<U>(self, work: impl FnOnce(T) -> U) -> Released<U>;

    /// As [`map`](Self::map), where it may fail.
    ///
    /// # Errors
    /// What `work` answers.
    fn try_map<U>(self, work: impl FnOnce(T) -> Result<U>) -> Result<Released<U>>;
}

impl<T> ForRules<T> for Released<T> {
    fn content(&self) -> &T {
        &self.0
    }

    fn map<U>(self, work: impl FnOnce(T) -> U) -> Released<U> {
        Released(work(self.0))
    }

    fn try_map<U>(self, work: impl FnOnce(T) -> Result<U>) -> Result<Released<U>> {
        work(self.0).map(Released)
    }
}

/// A recipe that was released, as the bytes to be sent.
pub type ReleasedRecipe = Released<Rendered>;

/// Content as the bytes to be sent, with the digest of these bytes. Cheap to hand on: what is asked for again and again
/// is rendered once.
pub struct Rendered {
    json: Arc<RawValue>,
    tag: Sha,
}

impl Serialize for Rendered {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        self.json.serialize(serializer)
    }
}

impl Rendered {
    const fn again(json: Arc<RawValue>, tag: Sha) -> Self {
        Self { json, tag }
    }
}

impl<T: Serialize> Released<T> {
    /// The bytes to be sent, released to the same reader.
    ///
    /// # Errors
    /// When the content cannot be written as JSON.
    pub fn render(&self) -> Result<ReleasedRecipe> {
        let json = serde_json::value::to_raw_value(&self.0)?;
        let tag = canonical::digest([json.get().as_bytes()]);
        Ok(Released(Rendered { json: json.into(), tag }))
    }
}

impl ReleasedRecipe {
    /// Names these very bytes, for conditional requests.
    #[must_use]
    pub const fn tag(&self) -> &Sha {
        &self.0.tag
    }

    /// The same bytes, sealed again under the digest of their revision, to be kept for the next reader.
    #[must_use]
    pub fn seal(&self, digest: Sha) -> Sealed<Rendered> {
        Sealed::new(digest, Rendered::again(Arc::clone(&self.0.json), self.0.tag))
    }
}

impl Released<Arc<Rendered>> {
    /// What was kept sealed, as the bytes to be sent.
    #[must_use]
    pub fn rendered(self) -> ReleasedRecipe {
        Released(Rendered::again(Arc::clone(&self.0.json), self.0.tag))
    }
}
