//! A typed client for another tool that works with a key: it lists the clinic's approved formulas, acknowledges
//! their cautions on the authority of the person who answers for the tool, and pulls recipes worked out for a
//! quantity.
//!
//! For: label printers, web shops, neighbouring clinics, and the small command `stillroom-client` beside it. May
//! use: `wire`, reqwest. What never happens here: rules (the service decides and this client passes its answers on),
//! logging, keeping a recipe or a key anywhere but in memory.
//!
//! - The key stands in one header, marked sensitive; neither `Debug` nor an error shows it.
//! - The key travels over https only. Plain http is for loopback, or for whoever asks for it by name
//!   ([`Settings::allow_plain_http`]), and then never through a proxy. Redirects are not followed.
//! - Every call is safe to repeat: reads by nature, the acknowledgement by its `Idempotency-Key`. So an answer of 429
//!   or 503 that says when to come back is waited for, within [`Settings::retries`] and [`Settings::longest_wait`].
//! - What a closed gate holds back comes as [`Error::closed_gate`]: the outstanding cautions, to be read by a person.
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

pub use calls::{Client, FormulaQuery, Tagged, must_be_named};
pub use error::{Error, SetupError};
pub use settings::Settings;
