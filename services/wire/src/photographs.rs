//! Photographs of a batch at the bench.

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use crate::ids::{BatchId, PersonId, PhotographId};
use crate::words::words;

words! {
    /// What a photograph shows. It is the text that stands in its place for whoever does not see it, and tells no amount.
    PhotographSubject {
        /// A material before it is weighed.
        Material = "material",
        /// The reading of a balance, thermometer or pH meter.
        Reading = "reading",
        /// The work at a step.
        Work = "work",
        /// What the preparation looks like.
        Preparation = "preparation",
        /// A label of a lot or a jar.
        Label = "label",
        /// The filled jars.
        Jars = "jars",
        /// What went wrong.
        Fault = "fault",
    }
}

/// What comes with a photograph.
#[derive(Clone, Debug, Serialize, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub struct NewPhotographQuery {
    /// What the photograph shows.
    #[param(inline, example = "preparation")]
    pub subject: PhotographSubject,
    /// The number of the entry that it belongs to, whose words say more about it.
    #[param(minimum = 1, example = 12)]
    pub entry: Option<u32>,
}

/// The bytes of a picture: JPEG, PNG or WebP, at most 10 MB.
#[derive(ToSchema)]
#[schema(value_type = String, format = Binary)]
pub struct PhotographBytes(#[expect(dead_code, reason = "it describes a body")] Vec<u8>);

/// Withdrawing a photograph.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({ "reason": "It shows a person." }))]
pub struct WithdrawPhotograph {
    /// Why, 1 to 1000 characters.
    #[schema(example = "It shows a person.")]
    pub reason: String,
}

/// That a photograph was withdrawn. Its files are removed.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct PhotographWithdrawal {
    /// Why.
    #[schema(example = "It shows a person.")]
    pub reason: String,
    /// Who withdrew it.
    pub by: PersonId,
    /// The name of the person who withdrew it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Noor Haddad")]
    pub by_name: Option<String>,
    /// When.
    pub at: DateTime<Utc>,
}

/// A file of a photograph.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct PhotographFile {
    /// The address that it is read from, as `image/jpeg`.
    #[schema(
        example = "/v1/batches/0192d5c8-6f3a-7c41-9a3e-5b1d2f4c6e80/photographs/0192d5c8-6f3a-7c41-9a3e-5b1d2f4c6e80"
    )]
    pub address: String,
    /// Width in pixels.
    #[schema(example = 1920)]
    pub width: u32,
    /// Height in pixels.
    #[schema(example = 2560)]
    pub height: u32,
    /// Bytes.
    #[schema(example = 812_345)]
    pub bytes: u64,
    /// SHA-256 of the file, in hexadecimal digits.
    #[schema(example = "9f86d081884c7d659a2feaa0c55ad015a3bf4f1b2b0b822cd15d6c15b0f00a08")]
    pub sha256: String,
}

/// A photograph of a batch.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct Photograph {
    /// The photograph.
    pub id: PhotographId,
    /// Its number among the photographs of the batch.
    #[schema(example = 3)]
    pub number: u32,
    /// What it shows.
    pub subject: PhotographSubject,
    /// The number of the entry that it belongs to.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = 12)]
    pub entry: Option<u32>,
    /// The picture, drawn anew and without metadata, with its longest side at most 2560 pixels.
    pub picture: PhotographFile,
    /// The same with its longest side at most 480 pixels.
    pub preview: PhotographFile,
    /// The number of the submission that it belongs to. Absent while the record has not been submitted since.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(null))]
    pub submission: Option<u32>,
    /// Set where it was withdrawn.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(null))]
    pub withdrawn: Option<PhotographWithdrawal>,
    /// Whether the caller may withdraw it.
    pub may_withdraw: bool,
    /// Who took it.
    pub by: PersonId,
    /// The name of the person who took it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "Noor Haddad")]
    pub by_name: Option<String>,
    /// When it came.
    pub at: DateTime<Utc>,
}

/// The photographs of a batch.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
pub struct Photographs {
    /// The batch.
    pub batch: BatchId,
    /// The number of the batch.
    #[schema(example = "2026-0042")]
    pub number: String,
    /// The title of its formula.
    #[schema(example = "Calendula cream")]
    pub title: String,
    /// Whether the caller may add one: the maker, while the batch is planned, making or returned.
    pub may_add: bool,
    /// Every photograph in the order in which they came, withdrawn ones too.
    pub photographs: Vec<Photograph>,
}
