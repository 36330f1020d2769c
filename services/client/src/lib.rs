//! A typed client for another tool with an API key: lists the clinic's approved formulas, acknowledges their cautions
//! on the authority of the responsible person, and reads recipes for a quantity.
//!
//! For: label printers, web shops, neighbouring clinics, and the small command `stillroom-client` beside it. May
//! use: `wire`, reqwest. Never here: rules (the service decides), logging, or storing a recipe or a key anywhere but in
//! memory.
//!
//! - The key is sent in one header, marked sensitive; neither `Debug` nor an error shows it.
//! - The key is sent over https only. Plain http is for loopback addresses, or with [`Settings::allow_plain_http`], and
//!   then never through a proxy. Redirects are not followed.
//! - Every call is safe to repeat: reads by nature, the acknowledgement by its `Idempotency-Key`. A 429 or 503 with
//!   `Retry-After` is therefore waited for and repeated, within [`Settings::retries`] and [`Settings::longest_wait`].
//! - A call made for a request that is traced belongs to its trace: [`Client::in_trace`].
//! - If the cautions are not acknowledged, the error has [`Error::closed_gate`]: the cautions, for a person to read.
//!
//! ```no_run
//! use client::{Client, FormulaQuery, must_be_named};
//! use wire::recipe::MakeFor;
//! use wire::safety::Acknowledge;
//!
//! # async fn pull(key: &str) -> Result<(), Box<dyn std::error::Error>> {
//! let clinic = Client::new("https://clinic.example", key)?;
//! let page = clinic.formulas(&FormulaQuery::default()).await?;
//! let jars = MakeFor { containers: Some(12), fill: Some("30 g".into()), ..MakeFor::default() };
//! for revision in page.items.iter().filter_map(|formula| formula.approved_revision) {
//!     let recipe = match clinic.recipe(revision, &jars).await {
//!         Err(error) if error.closed_gate().is_some() => {
//!             let cautions = clinic.cautions(revision).await?;
//!             // Here a person reads the cautions. Only then:
//!             let read = Acknowledge {
//!                 caution_set: cautions.digest.clone(),
//!                 contraindications: must_be_named(&cautions).map(str::to_owned).collect(),
//!                 meant_for: Vec::new(),
//!                 for_api_client: None,
//!             };
//!             clinic.acknowledge(revision, &read).await?;
//!             clinic.recipe(revision, &jars).await?
//!         }
//!         other => other?,
//!     };
//!     assert_eq!(recipe.value.revision, revision);
//! }
//! # Ok(())
//! # }
//! ```

mod calls;
mod error;
mod exchange;
mod retry;
mod settings;
mod trace;

pub use calls::{Client, FormulaQuery, Tagged, must_be_named};
pub use error::{Error, SetupError};
pub use settings::Settings;
pub use trace::TraceParent;
