//! What has passed the gate.

use std::sync::Arc;

use canonical::Sha;
use serde::{Serialize, Serializer};
use serde_json::value::RawValue;
use store::Result;

/// Content from behind the gate that was released to a reader. It can be sent, and nothing else: nobody outside this
/// crate makes one, and none can be copied, printed, read back or taken apart by a crate that only sends it. Sending is
/// serialising, so a crate that sends can read what it sends; it must not keep it for another reader.
pub struct Released<T> {
    content: T,
    /// The digest of the revision, where a grant to make opened it. Only such content is made into something that others
    /// rely on: a batch's recipe, or bytes that are kept for the next reader.
    to_make: Option<Sha>,
}

impl<T> Released<T> {
    /// Only a proof releases: see [`crate::Sealed::open`] and the reads of [`crate::entries`] and [`crate::content`].
    pub(crate) const fn new(content: T, to_make: Option<Sha>) -> Self {
        Self { content, to_make }
    }

    pub(crate) const fn to_make(&self) -> Option<&Sha> {
        self.to_make.as_ref()
    }
}

impl<T: Serialize> Serialize for Released<T> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        self.content.serialize(serializer)
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
        &self.content
    }

    fn map<U>(self, work: impl FnOnce(T) -> U) -> Released<U> {
        Released::new(work(self.content), self.to_make)
    }

    fn try_map<U>(self, work: impl FnOnce(T) -> Result<U>) -> Result<Released<U>> {
        Ok(Released::new(work(self.content)?, self.to_make))
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
    pub(crate) fn again(&self) -> Self {
        Self { json: Arc::clone(&self.json), tag: self.tag }
    }
}

impl<T: Serialize> Released<T> {
    /// The bytes to be sent, released to the same reader.
    ///
    /// # Errors
    /// When the content cannot be written as JSON.
    pub fn render(&self) -> Result<ReleasedRecipe> {
        let json = serde_json::value::to_raw_value(&self.content)?;
        let tag = canonical::digest([json.get().as_bytes()]);
        Ok(Released::new(Rendered { json: json.into(), tag }, self.to_make))
    }
}

impl ReleasedRecipe {
    /// Names these very bytes, for conditional requests.
    #[must_use]
    pub const fn tag(&self) -> &Sha {
        &self.content.tag
    }
}

impl Released<Arc<Rendered>> {
    /// What was kept sealed, as the bytes to be sent.
    #[must_use]
    pub fn rendered(self) -> ReleasedRecipe {
        Released::new(self.content.again(), self.to_make)
    }
}
