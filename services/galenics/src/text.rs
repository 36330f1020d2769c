//! Text that is cheap to copy: names, ids and sources travel with every figure, and a figure must not
//! cost an allocation for each of them.

use std::{fmt, ops::Deref, sync::Arc};

use serde::{Deserialize, Deserializer, Serialize, Serializer};

/// A piece of text that is copied by reference: either part of the program or shared.
#[derive(Clone)]
pub struct Text(Kept);

#[derive(Clone)]
enum Kept {
    Static(&'static str),
    Shared(Arc<str>),
}

impl Text {
    /// Text that is part of the program, usable in constants.
    #[must_use]
    pub const fn fixed(text: &'static str) -> Self {
        Self(Kept::Static(text))
    }

    /// The text itself.
    #[must_use]
    pub fn as_str(&self) -> &str {
        match &self.0 {
            Kept::Static(text) => text,
            Kept::Shared(text) => text,
        }
    }
}

impl Deref for Text {
    type Target = str;

    fn deref(&self) -> &str {
        self.as_str()
    }
}

impl AsRef<str> for Text {
    fn as_ref(&self) -> &str {
        self.as_str()
    }
}

impl From<&'static str> for Text {
    fn from(text: &'static str) -> Self {
        Self::fixed(text)
    }
}

impl From<String> for Text {
    fn from(text: String) -> Self {
        Self(Kept::Shared(text.into()))
    }
}

impl From<Arc<str>> for Text {
    fn from(text: Arc<str>) -> Self {
        Self(Kept::Shared(text))
    }
}

impl PartialEq for Text {
    fn eq(&self, other: &Self) -> bool {
        // Copies of one text share their bytes, so that most comparisons end at the address.
        let (a, b) = (self.as_str(), other.as_str());
        // Those of other texts mostly end at the last byte: ids made one after the other begin alike.
        std::ptr::eq(a, b) || (a.len() == b.len() && a.as_bytes().last() == b.as_bytes().last() && a == b)
    }
}

impl Eq for Text {}

impl PartialOrd for Text {
    fn partial_cmp(&self, other: &Self) -> Option<std::cmp::Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Text {
    fn cmp(&self, other: &Self) -> std::cmp::Ordering {
        self.as_str().cmp(other.as_str())
    }
}

impl std::hash::Hash for Text {
    fn hash<H: std::hash::Hasher>(&self, state: &mut H) {
        self.as_str().hash(state);
    }
}

impl fmt::Debug for Text {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Debug::fmt(self.as_str(), f)
    }
}

impl fmt::Display for Text {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.as_str())
    }
}

impl Serialize for Text {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(self.as_str())
    }
}

impl<'de> Deserialize<'de> for Text {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        String::deserialize(deserializer).map(Self::from)
    }
}
