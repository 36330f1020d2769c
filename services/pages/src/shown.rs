//! Reading what was released, for a page.
//!
//! What a `Released` holds leaves it only as it is written for a reader, and a page is made from that: it gets what the
//! reader of the API gets, and nothing besides.

use serde::Serialize;
use serde::de::DeserializeOwned;

use crate::trouble::Trouble;

/// What a release tells its reader.
pub(crate) fn shown<T: DeserializeOwned>(released: &impl Serialize) -> Result<T, Trouble> {
    let unreadable = |error| Trouble::Clinic(clinic::Error::from(error));
    let written = serde_json::to_vec(released).map_err(unreadable)?;
    serde_json::from_slice(&written).map_err(unreadable)
}
