//! Pages of lists: the cursor encodes the sort values of the last item, so that depth costs nothing.

use base64::Engine;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use serde::{Serialize, de::DeserializeOwned};
use wire::page::Page;

use crate::error::{Error, Result};
use crate::ready::Ready;

/// The most items a page can have.
pub const MAX_PAGE_SIZE: u32 = 100;

/// How many items, and after which sort values.
#[derive(Clone, Debug)]
pub struct PageRequest<K> {
    /// How many items at most.
    pub limit: u32,
    /// The sort values of the last item of the page before.
    pub after: Option<K>,
}

impl<K: Serialize + DeserializeOwned> PageRequest<K> {
    /// Reads `limit` and `after` as they were sent.
    ///
    /// # Errors
    /// When the limit is out of range or the cursor is not one of ours.
    pub fn parse(limit: Option<u32>, after: Option<&str>) -> Result<Self> {
        let limit = limit.unwrap_or(50);
        if !(1..=MAX_PAGE_SIZE).contains(&limit) {
            return Err(Error::field(
                "?limit",
                format!("{limit} is out of range. Send a limit of 1 to {MAX_PAGE_SIZE}."),
            ));
        }
        let after = after.map(decode).transpose()?;
        Ok(Self { limit, after })
    }

    /// One more than asked for tells whether there is a next page.
    #[must_use]
    pub fn fetch(&self) -> i64 {
        i64::from(self.limit) + 1
    }

    /// Cuts the extra item off and makes the cursor of the last one kept.
    ///
    /// # Errors
    /// When the sort values cannot be written as JSON.
    pub fn page<T>(&self, mut items: Vec<T>, key: impl Fn(&T) -> K) -> Result<Page<T>> {
        let limit = usize::try_from(self.limit).unwrap_or(usize::MAX);
        let more = items.len() > limit;
        items.truncate(limit);
        let next = match items.last() {
            Some(last) if more => Some(URL_SAFE_NO_PAD.encode(serde_json::to_vec(&key(last))?)),
            _ => None,
        };
        Ok(Page { items, next })
    }
}

/// A page as the bytes to be sent, and the cursor of the next one.
#[derive(Clone, Debug)]
pub struct ReadyPage {
    /// The bytes.
    pub ready: Ready,
    /// The cursor, which stands in the bytes too.
    pub next: Option<String>,
}

impl ReadyPage {
    /// Renders a page.
    ///
    /// # Errors
    /// When it cannot be written as JSON.
    pub fn new<T: Serialize>(page: Page<T>) -> Result<Self> {
        Ok(Self { ready: Ready::new(&page)?, next: page.next })
    }
}

fn decode<K: DeserializeOwned>(cursor: &str) -> Result<K> {
    URL_SAFE_NO_PAD
        .decode(cursor)
        .ok()
        // No text that is kept here has U+0000, and Postgres takes none.
        .filter(|bytes| !bytes.windows(6).any(|part| part == br"\u0000"))
        .and_then(|bytes| serde_json::from_slice(&bytes).ok())
        .ok_or_else(|| {
            Error::field(
                "?after",
                "This cursor does not belong to this list. Use the `next` value of the \
                 previous page.",
            )
        })
}
