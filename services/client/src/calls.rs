//! The calls that an API client may make. Decides nothing: every rule is the service's.

use serde::Serialize;
use wire::formulary::{Formula, FormulaSummary, Regime, Revision};
use wire::ids::{BatchId, FormulaId, LibraryId, RevisionId};
use wire::jars::{JarQuery, JarSheet, JarsHere};
use wire::label::{BatchLabelQuery, Label, LabelQuery};
use wire::page::Page;
use wire::people::Me;
use wire::recipe::{MakeFor, Recipe};
use wire::safety::{Acknowledge, Acknowledgement, CautionLevel, CautionSet};
use wire::stock::{LotQuery, LotSummary};

use crate::error::{Error, SetupError};
use crate::exchange::Exchange;
use crate::settings::Settings;
use crate::trace::TraceParent;

/// No query parameters.
const NONE: [(&str, &str); 0] = [];

/// A client of one clinic's service. Cheap to clone; clones share their connections.
#[derive(Clone)]
pub struct Client(Exchange);

impl std::fmt::Debug for Client {
    /// Shows the address, never the key.
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Client").field("base", &self.0.base().as_str()).finish_non_exhaustive()
    }
}

/// Filter and page of the list of approved formulas.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct FormulaQuery {
    /// Only formulas of this library.
    pub library: Option<LibraryId>,
    /// Only formulas whose title contains this.
    pub title: Option<String>,
    /// Only formulas that contain this material at any level: its id, or a part of one of its names.
    pub material: Option<String>,
    /// Only this kind of preparation, such as `cream`.
    pub kind: Option<String>,
    /// Only formulas that are made as this.
    pub regime: Option<Regime>,
    /// Maximum number of items: 1 to 100; the service's default if absent.
    pub limit: Option<u32>,
    /// The `next` of the previous page.
    pub after: Option<String>,
}

/// A value, and its tag for a later conditional read.
#[derive(Clone, Debug)]
pub struct Tagged<T> {
    /// The value.
    pub value: T,
    /// Its strong entity tag, with quotation marks; `None` if the service sent none.
    pub tag: Option<String>,
}

/// The keys of the cautions that must be acknowledged individually: for [`Acknowledge::contraindications`], once a
/// person has read them.
pub fn must_be_named(set: &CautionSet) -> impl Iterator<Item = &str> {
    set.cautions
        .iter()
        .filter(|caution| caution.level >= CautionLevel::Contraindication)
        .map(|caution| caution.key.as_str())
}

impl Client {
    /// A client for the service at `base` (such as `https://clinic.example`) with an API client's key (`sk_...`) and
    /// the default limits. Installs the process's TLS provider (ring), unless the process already has one.
    ///
    /// # Errors
    /// Returns [`SetupError`] if the address or the key is invalid, or the key would be sent unencrypted.
    pub fn new(base: &str, key: &str) -> Result<Self, SetupError> {
        Self::with(base, key, Settings::default())
    }

    /// As [`Client::new`], with other limits.
    ///
    /// # Errors
    /// As [`Client::new`].
    pub fn with(base: &str, key: &str, settings: Settings) -> Result<Self, SetupError> {
        Exchange::new(base, key, settings).map(Self)
    }

    /// The same client, whose calls belong to this trace. They share their connections.
    #[must_use]
    pub fn in_trace(&self, trace: TraceParent) -> Self {
        Self(self.0.in_trace(trace))
    }

    /// The API client that the key belongs to, and its scopes.
    ///
    /// # Errors
    /// Returns [`Error`].
    pub async fn me(&self) -> Result<Me, Error> {
        self.0.get("v1/me", &NONE, None).await?.read()
    }

    /// One page of the approved formulas in the libraries of this API client, by title.
    ///
    /// # Errors
    /// Returns [`Error`].
    pub async fn formulas(&self, query: &FormulaQuery) -> Result<Page<FormulaSummary>, Error> {
        #[derive(Serialize)]
        struct Parameters<'a> {
            approved: bool,
            #[serde(skip_serializing_if = "Option::is_none")]
            library: Option<LibraryId>,
            #[serde(skip_serializing_if = "Option::is_none")]
            title: Option<&'a str>,
            #[serde(skip_serializing_if = "Option::is_none")]
            material: Option<&'a str>,
            #[serde(skip_serializing_if = "Option::is_none")]
            kind: Option<&'a str>,
            #[serde(skip_serializing_if = "Option::is_none")]
            regime: Option<Regime>,
            #[serde(skip_serializing_if = "Option::is_none")]
            limit: Option<u32>,
            #[serde(skip_serializing_if = "Option::is_none")]
            after: Option<&'a str>,
        }
        let FormulaQuery { library, title, material, kind, regime, limit, after } = query;
        let parameters = Parameters {
            approved: true,
            library: *library,
            title: title.as_deref(),
            material: material.as_deref(),
            kind: kind.as_deref(),
            regime: *regime,
            limit: *limit,
            after: after.as_deref(),
        };
        self.0.get("v1/formulas", &parameters, None).await?.read()
    }

    /// A formula with its revisions.
    ///
    /// # Errors
    /// Returns [`Error`].
    pub async fn formula(&self, id: FormulaId) -> Result<Formula, Error> {
        self.0.get(&format!("v1/formulas/{id}"), &NONE, None).await?.read()
    }

    /// A revision without amounts and method. Needs no acknowledgement.
    ///
    /// # Errors
    /// Returns [`Error`].
    pub async fn revision(&self, id: RevisionId) -> Result<Revision, Error> {
        self.0.get(&format!("v1/revisions/{id}"), &NONE, None).await?.read()
    }

    /// The current caution set of a revision.
    ///
    /// # Errors
    /// Returns [`Error`].
    pub async fn cautions(&self, revision: RevisionId) -> Result<CautionSet, Error> {
        self.0.get(&format!("v1/revisions/{revision}/cautions"), &NONE, None).await?.read()
    }

    /// The label of a revision. Needs no acknowledgement; never contains amounts or method.
    ///
    /// # Errors
    /// Returns [`Error`].
    pub async fn label(&self, revision: RevisionId, container: &LabelQuery) -> Result<Label, Error> {
        self.0.get(&format!("v1/revisions/{revision}/label"), container, None).await?.read()
    }

    /// The label for the jars of a batch. Never contains amounts or method; follows the weighings once the cautions of the
    /// formula and of every nested formula are acknowledged for this API client.
    ///
    /// # Errors
    /// Returns [`Error`].
    pub async fn batch_label(&self, batch: BatchId, container: &BatchLabelQuery) -> Result<Label, Error> {
        self.0.get(&format!("v1/batches/{batch}/label"), container, None).await?.read()
    }

    /// Lots of the shelf: what expires first comes first. The key needs the scope `lots:read`.
    ///
    /// # Errors
    /// Returns [`Error`].
    pub async fn lots(&self, query: &LotQuery) -> Result<Page<LotSummary>, Error> {
        self.0.get("v1/lots", query, None).await?.read()
    }

    /// Jars on the shelf, those that were filled alike together: what must be used first comes first. The key needs the scope
    /// `jars:read`.
    ///
    /// # Errors
    /// Returns [`Error`].
    pub async fn jars(&self, query: &JarQuery) -> Result<Page<JarsHere>, Error> {
        self.0.get("v1/jars", query, None).await?.read()
    }

    /// A jar by its code, with what is told when it is handed out, and why it is not. The code is taken as it was typed or
    /// scanned, also with the address of its page around it. The key needs the scope `jars:read`.
    ///
    /// # Errors
    /// Returns [`Error`].
    pub async fn jar(&self, code: &str) -> Result<JarSheet, Error> {
        let code = code.rsplit('/').next().unwrap_or_default();
        let code: String = code.chars().filter(char::is_ascii_alphanumeric).collect();
        self.0.get(&format!("v1/jar-codes/{code}"), &NONE, None).await?.read()
    }

    /// Acknowledges the cautions of a revision, on the authority of the person responsible for this API client. Call it
    /// only once a person has read the cautions.
    ///
    /// # Errors
    /// Returns an error with [`Error::closed_gate`], which holds the current set, if `request` names another set. See
    /// [`Error`].
    pub async fn acknowledge(
        &self,
        revision: RevisionId,
        request: &Acknowledge,
    ) -> Result<Acknowledgement, Error> {
        self.0.post(&format!("v1/revisions/{revision}/acknowledgements"), request).await?.read()
    }

    /// The recipe of a revision for a quantity.
    ///
    /// # Errors
    /// Returns an error with [`Error::closed_gate`] if the current cautions are not acknowledged. See [`Error`].
    pub async fn recipe(&self, revision: RevisionId, make_for: &MakeFor) -> Result<Tagged<Recipe>, Error> {
        let answer = self.0.get(&recipe(revision), make_for, None).await?;
        Ok(Tagged { value: answer.read()?, tag: answer.tag() })
    }

    /// As [`Client::recipe`], with the rule, the sentence, the inputs and the sources of every figure.
    ///
    /// # Errors
    /// As [`Client::recipe`].
    pub async fn recipe_explained(
        &self,
        revision: RevisionId,
        make_for: &MakeFor,
    ) -> Result<Tagged<Recipe>, Error> {
        let address = format!("{}?explain=true", recipe(revision));
        let answer = self.0.get(&address, make_for, None).await?;
        Ok(Tagged { value: answer.read()?, tag: answer.tag() })
    }

    /// As [`Client::recipe`], but `None` if the recipe is unchanged. The tag must come from the same revision and
    /// quantity. The service answers so only if the current cautions are acknowledged: on [`Error::closed_gate`], the
    /// caller must discard its copy of the recipe.
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
