//! What all workers share, and what the server hands to the pages of the listener they stand on.

use std::net::IpAddr;
use std::sync::{Arc, OnceLock};

use actix_web::HttpRequest;
use clinic::people::PageVisitor;
use clinic::{Clinic, Credentials};
use quick_cache::sync::Cache;
use wire::teaching::CredentialFacts;

use crate::documented::{Operation, operations};

/// Settings of the pages, and what they share with whatever else answers on the same listener.
#[derive(Clone, Copy)]
pub struct PagesSettings {
    /// Keeps what a page hands to a browser to be handed back: never known outside.
    pub secret: [u8; 32],
    /// The ID of the request that is being answered.
    pub request_id: fn() -> String,
    /// Where a request comes from.
    pub address: fn(&HttpRequest) -> Option<IpAddr>,
    /// The API's document, which the documentation is made from.
    pub document: fn() -> serde_json::Value,
    /// Counts a request of a caller; answers the seconds to wait if none is left.
    pub admit: fn(&HttpRequest, &Credentials) -> Result<(), u64>,
    /// Counts a request of whoever is not signed in; answers the seconds to wait if none is left.
    pub admit_stranger: fn(&HttpRequest) -> Result<(), u64>,
    /// Counts a report of a reaction by whoever is not signed in; answers the seconds to wait if none is left.
    pub admit_report: fn(&HttpRequest) -> Result<(), u64>,
    /// Signs the credential of a sign-off.
    pub credential: fn(&HttpRequest, &CredentialFacts) -> Option<String>,
}

/// How many sessions are remembered, each for a minute.
const REMEMBERED: usize = 4096;

/// The state shared by all workers.
pub struct Pages {
    pub(crate) clinic: Arc<Clinic>,
    pub(crate) settings: PagesSettings,
    operations: OnceLock<Vec<Operation>>,
    /// Who stands behind a cookie, by its digest, and when that was found out. What a session may do is proved by each
    /// use case anew; this only saves asking for the name on top of the page.
    pub(crate) visitors: Cache<[u8; 32], (Arc<PageVisitor>, i64)>,
}

impl Pages {
    /// Sets the pages up on a clinic.
    #[must_use]
    pub fn new(clinic: Arc<Clinic>, settings: PagesSettings) -> Self {
        Self { clinic, settings, operations: OnceLock::new(), visitors: Cache::new(REMEMBERED) }
    }

    /// The operations of the API, read when they are first asked for.
    pub(crate) fn operations(&self) -> &[Operation] {
        self.operations.get_or_init(|| operations(&(self.settings.document)()))
    }

    /// A new key that makes one form work once.
    pub(crate) fn once(&self) -> String {
        hex::encode(self.clinic.rng().bytes::<16>())
    }
}
