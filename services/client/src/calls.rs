//! The calls a tool with a key can make.

use serde::Serialize;
use wire::formulary::{Formula, FormulaSummary, Revision};
use wire::ids::{FormulaId, LibraryId, RevisionId};
use wire::label::{Label, LabelQuery};
use wire::page::Page;
use wire::people::Me;
use wire::recipe::{MakeFor, Recipe};
use wire::safety::{Acknowledge, Acknowledgement, CautionLevel, CautionSet};

use crate::error::{Error, SetupError};
use crate::exchange::Exchange;
use crate::settings::Settings;

/// No query parameters.
const NONE: [(&str, &str); 0] = [];

/// A clinic's service, reached with a key. Cheap to clone; clones share their connections.
#[derive(Clone)]
pub struct Client(Exchange);

impl std::fmt::Debug for Client {
    /// The address alone: never the key.
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Client").field("base", &self.0.base().as_str()).finish_non_exhaustive()
    }
}

/// Which approved formulas are listed, and which page of them.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct FormulaQuery {
    /// Only of this library.
    pub library: Option<LibraryId>,
    /// How many at most: 1 to 100; the service's own measure if absent.
    pub limit: Option<u32>,
    /// The `next` of the page before.
    pub after: Option<String>,
}

/// What was read, and the tag that names it in a later conditional read.
#[derive(Clone, Debug)]
pub struct Tagged<T> {
    /// What was read.
    pub value: T,
    /// Its strong entity tag, with its quotation marks; absent when the service gave none.
    pub tag: Option<String>,
}

/// The keys of the cautions of a set that are acknowledged each on its own, which is for
/// [`Acknowledge::contraindications`] once a person has read them.
pub fn must_be_named(set: &CautionSet) -> impl Iterator<Item = &str> {
    set.cautions
        .iter()
        .filter(|caution| caution.level >= CautionLevel::Contraindication)
        .map(|caution| caution.key.as_str())
}

impl Client {
    /// A client for the service at `base` (such as `https://clinic.example`) with an API client's key (`sk_...`),
    /// within the usual limits. Installs the process's TLS provider (ring), unless the process already has one.
    ///
    /// # Errors
    /// When the address or the key cannot be right, or the key would travel readable; see [`SetupError`].
    pub fn new(base: &str, key: &str) -> Result<Self, SetupError> {
        Self::with(base, key, Settings::default())
    }

    /// The same, within other limits.
    ///
    /// # Errors
    /// As [`Client::new`].
    pub fn with(base: &str, key: &str, settings: Settings) -> Result<Self, SetupError> {
        Exchange::new(base, key, settings).map(Self)
    }

    /// Who is calling, and what the key may do.
    ///
    /// # Errors
    /// See [`Error`].
    pub async fn me(&self) -> Result<Me, Error> {
        self.0.get("v1/me", &NONE, None).await?.read()
    }

    /// One page of the approved formulas of the libraries that are shared with this tool, by title.
    ///
    /// # Errors
    /// See [`Error`].
    pub async fn formulas(&self, query: &FormulaQuery) -> Result<Page<FormulaSummary>, Error> {
        #[derive(Serialize)]
        struct Parameters<'a> {
            approved: bool,
            #[serde(skip_serializing_if = "Option::is_none")]
            library: Option<LibraryId>,
            #[serde(skip_serializing_if = "Option::is_none")]
            limit: Option<u32>,
            #[serde(skip_serializing_if = "Option::is_none")]
            after: Option<&'a str>,
        }
        let FormulaQuery { library, limit, after } = query;
        let parameters =
            Parameters { approved: true, library: *library, limit: *limit, after: after.as_deref() };
        self.0.get("v1/formulas", &parameters, None).await?.read()
    }

    /// One formula with its revisions.
    ///
    /// # Errors
    /// See [`Error`].
    pub async fn formula(&self, id: FormulaId) -> Result<Formula, Error> {
        self.0.get(&format!("v1/formulas/{id}"), &NONE, None).await?.read()
    }

    /// What may be seen of a revision before its gate: everything but amounts and method.
    ///
    /// # Errors
    /// See [`Error`].
    pub async fn revision(&self, id: RevisionId) -> Result<Revision, Error> {
        self.0.get(&format!("v1/revisions/{id}"), &NONE, None).await?.read()
    }

    /// The current caution set of a revision.
    ///
    /// # Errors
    /// See [`Error`].
    pub async fn cautions(&self, revision: RevisionId) -> Result<CautionSet, Error> {
        self.0.get(&format!("v1/revisions/{revision}/cautions"), &NONE, None).await?.read()
    }

    /// What stands on a jar of a revision: open before the gate, without amounts and without method.
    ///
    /// # Errors
    /// See [`Error`].
    pub async fn label(&self, revision: RevisionId, container: &LabelQuery) -> Result<Label, Error> {
        self.0.get(&format!("v1/revisions/{revision}/label"), container, None).await?.read()
    }

    /// Acknowledges the cautions of a revision, on the authority of the person who answers for this tool. To be
    /// called when a person has read them, not instead of it.
    ///
    /// # Errors
    /// [`Error::closed_gate`] with the current set when another one was named; see [`Error`].
    pub async fn acknowledge(
        &self,
        revision: RevisionId,
        request: &Acknowledge,
    ) -> Result<Acknowledgement, Error> {
        self.0.post(&format!("v1/revisions/{revision}/acknowledgements"), request).await?.read()
    }

    /// A revision worked out for a quantity.
    ///
    /// # Errors
    /// [`Error::closed_gate`] while its cautions are not acknowledged; see [`Error`].
    pub async fn recipe(&self, revision: RevisionId, make_for: &MakeFor) -> Result<Tagged<Recipe>, Error> {
        let answer = self.0.get(&recipe(revision), make_for, None).await?;
        Ok(Tagged { value: answer.read()?, tag: answer.tag() })
    }

    /// The same, unless it is still what the tag names; `None` then. The tag must come from the same revision worked
    /// out for the same quantity. That nothing changed is said only while the gate is open: on
    /// [`Error::closed_gate`] whoever kept the recipe has to let go of it.
    ///
    /// # Errors
    /// As [`Client::recipe`].
    pub async fn recipe_if_changed(
        &self,
        revision: RevisionId,
        make_for: &MakeFor,
        tag: &str,
    ) -> Result<Option<Tagged<Recipe>>, Error> {
        let answer = self.0.get(&recipe(revision), make_for, Some(tag)).await?;
        if answer.is_unchanged() {
            return Ok(None);
        }
        Ok(Some(Tagged { value: answer.read()?, tag: answer.tag() }))
    }
}

fn recipe(revision: RevisionId) -> String {
    format!("v1/revisions/{revision}/recipe")
}
