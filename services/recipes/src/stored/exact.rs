//! Exact decimals in stored documents.

use galenics::Decimal;
use serde::{Deserialize, Deserializer, Serialize, Serializer, de::Error};

/// An exact decimal, stored as text such as `"33.333333333333333333333333333"`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Exact(pub Decimal);

impl Serialize for Exact {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(&self.0.normalize())
    }
}

impl<'de> Deserialize<'de> for Exact {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = String::deserialize(deserializer)?;
        // The text may be an amount: the message does not repeat it.
        Decimal::from_str_exact(&text).map(Self).map_err(|_| D::Error::custom("not an exact decimal"))
    }
}
