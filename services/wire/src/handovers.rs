//! Handing a batch over to another maker.

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::ids::{BatchId, HandoverId, PersonId};
use crate::words::words;

words! {
    /// What became of an offer.
    HandoverAnswer {
        /// The other person has the batch now.
        Accepted = "accepted",
        /// The other person does not want it.
        Declined = "declined",
        /// Whoever offered it keeps it.
        Withdrawn = "withdrawn",
    }
}

/// Offering a batch to another maker.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({ "to": "0192d5c8-6f3a-7c41-9a3e-5b1d2f4c6e80", "reason": "I am away next week." }))]
pub struct NewHandover {
    /// Whom it is offered to: a member of the library who has acknowledged the cautions of its formula to make it.
    pub to: PersonId,
    /// Why, 1 to 1000 characters. An instructor who hands over what another has says why.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "I am away next week.")]
    pub reason: Option<String>,
}

/// Answering an offer.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({ "answer": "accepted" }))]
pub struct NewHandoverAnswer {
    /// Accepted or declined by whom it was offered to, withdrawn by whoever offered it or has the batch.
    pub answer: HandoverAnswer,
}

/// That a batch was offered to another maker, and what became of it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct Handover {
    /// The offer.
    pub id: HandoverId,
    /// The batch.
    pub batch: BatchId,
    /// Its number.
    #[schema(example = "2026-0042")]
    pub number: String,
    /// What is made.
    #[schema(example = "Calendula oil")]
    pub title: String,
    /// Who has the batch, or had it.
    pub from: PersonId,
    /// The name of the person who has it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Noor Haddad")]
    pub from_name: Option<String>,
    /// Whom it was offered to.
    pub to: PersonId,
    /// The name of the person whom it was offered to.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Tomas Lind")]
    pub to_name: Option<String>,
    /// Who offered it: who has it, or an instructor.
    pub by: PersonId,
    /// The name of the person who offered it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Noor Haddad")]
    pub by_name: Option<String>,
    /// Why.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "I am away next week.")]
    pub reason: Option<String>,
    /// When it was offered.
    pub at: DateTime<Utc>,
    /// What became of it; absent while it waits.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(null))]
    pub answer: Option<HandoverAnswer>,
    /// When it was answered.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(null))]
    pub answered_at: Option<DateTime<Utc>>,
}

/// Somebody with their name.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct Maker {
    /// The person.
    pub person: PersonId,
    /// Their name.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Noor Haddad")]
    pub name: Option<String>,
}

/// Who has a batch and who had it, as it was handed over.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct Handovers {
    /// The batch.
    pub batch: BatchId,
    /// Its number.
    #[schema(example = "2026-0042")]
    pub number: String,
    /// What is made.
    #[schema(example = "Calendula oil")]
    pub title: String,
    /// Who has it now.
    pub maker: PersonId,
    /// The name of the person who has it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Noor Haddad")]
    pub maker_name: Option<String>,
    /// Whether the caller may offer it to somebody now.
    pub may_offer: bool,
    /// Who could take it, for whoever may offer it.
    pub candidates: Vec<Maker>,
    /// Every offer, the newest first.
    pub handovers: Vec<Handover>,
}
