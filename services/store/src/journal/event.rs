//! An event, as it is gathered while a transaction runs.

use canonical::Sha;
use serde_json::{Value, json};
use uuid::Uuid;

use super::kept::{Kept, KeptRow};

/// What happened, without what the transaction knows already (who and when).
#[derive(Debug)]
pub struct NewEvent {
    pub(crate) subject_kind: &'static str,
    pub(crate) subject: Uuid,
    pub(crate) action: &'static str,
    pub(crate) before: Option<Sha>,
    pub(crate) after: Option<Sha>,
    pub(crate) detail: Value,
    pub(crate) rows: Vec<KeptRow>,
}

impl NewEvent {
    /// An event: the kind of thing that changed, the thing, and what was done to it.
    #[must_use]
    pub fn new(subject_kind: &'static str, subject: Uuid, action: &'static str) -> Self {
        Self { subject_kind, subject, action, before: None, after: None, detail: json!({}), rows: Vec::new() }
    }

    /// With the digest of what the subject was.
    #[must_use]
    pub const fn before(mut self, before: Option<Sha>) -> Self {
        self.before = before;
        self
    }

    /// With the digest of what the subject became.
    #[must_use]
    pub fn after(mut self, after: impl Into<Option<Sha>>) -> Self {
        self.after = after.into();
        self
    }

    /// With what else was touched: ids and digests as strings, never text that a person wrote.
    #[must_use]
    pub fn detail(mut self, detail: Value) -> Self {
        self.detail = detail;
        self
    }

    /// With the digest of a row as it stands when the transaction ends.
    #[must_use]
    pub fn keeps<K: ToString>(mut self, kept: &'static Kept, key: impl IntoIterator<Item = K>) -> Self {
        self.rows.push(KeptRow { kept, key: key.into_iter().map(|part| part.to_string()).collect() });
        self
    }
}
