//! The mark that a review gives: what is decided on each criterion.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// What is decided on one criterion.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct CriterionDecision {
    /// Which criterion of the rubric, counted from 1.
    #[schema(example = 1)]
    pub criterion: u32,
    /// Which of its levels, counted from 1. A must-pass criterion has none.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = 2)]
    pub level: Option<u32>,
    /// Of a must-pass criterion: whether it is met.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = json!(null))]
    pub met: Option<bool>,
    /// A comment: 1 to 4000 characters. It is kept with the comments of the review. Needed where `met` is false.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "The second line was weighed with care.")]
    pub comment: Option<String>,
}

/// A mark, given with the verdict on the record: every criterion decided.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(example = json!({ "criteria": [
    { "criterion": 1, "level": 2, "comment": "The second line was weighed with care." },
    { "criterion": 2, "level": 2 }, { "criterion": 3, "met": true } ] }))]
pub struct NewMark {
    /// What is decided on each criterion.
    pub criteria: Vec<CriterionDecision>,
}
