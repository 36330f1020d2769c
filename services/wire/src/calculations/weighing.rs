//! Weighing.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::questions;

questions! {
    /// A question about weighing: name one.
    WeighingQuestion {
        /// The least that a balance weighs within an error.
        Least(LeastWeighable) = least,
        /// How to weigh less than that all the same.
        Aliquot(AliquotQuestion) = aliquot,
    }
}

/// A balance, by its sensitivity requirement or by the step it shows: give one of the two.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct LeastWeighable {
    /// The sensitivity requirement of a two-pan balance.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "6 mg")]
    pub sensitivity: Option<String>,
    /// The smallest step that a balance shows: it may be wrong by half of it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(null))]
    pub readability: Option<String>,
    /// The error allowed of a weighing.
    #[schema(example = "5 %")]
    pub error: String,
}

/// An amount too small to weigh.
#[derive(Clone, Debug, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct AliquotQuestion {
    /// How much is wanted.
    #[schema(example = "50 mg")]
    pub wanted: String,
    /// The least that can be weighed.
    #[schema(example = "120 mg")]
    pub least: String,
    /// The part to take of the mixture: a mass where it is rubbed into a solid, a volume where it is dissolved.
    #[schema(example = "200 mg")]
    pub aliquot: String,
}
